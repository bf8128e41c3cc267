package server

import (
	"testing"

	pb "gritward/proto/gritward/v1"
)

// TestReadProtocol has what the first call needs known before it comes.
func TestReadProtocol(t *testing.T) {
	const first = pb.ClubService_WhoAmI_FullMethodName
	knownMethods.Delete(first)
	ReadProtocol()
	if known, ok := knownMethods.Load(first); !ok || known.(method).access == nil || known.(method).largest < maxPlain {
		t.Errorf("%s is known as %v", first, known)
	}
}
