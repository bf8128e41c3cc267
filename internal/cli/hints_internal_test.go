package cli

import (
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
)

// TestNobodyAnswersElsewhere: who reaches the club's server over the internet is not told to start one.
func TestNobodyAnswersElsewhere(t *testing.T) {
	for server, want := range map[string]string{
		"127.0.0.1:7347":                          "start one with `gritwardd serve`",
		"rides.example:7347":                      "look whether this device is connected, and ask whoever runs your club's server",
		"rides1.example:7347,rides2.example:7347": "look whether this device is connected",
	} {
		got := (&app{server: server}).onTheWay(status.New(codes.Unavailable, "connection refused"))
		if !strings.HasPrefix(got, "no server answers at "+server+": "+want) {
			t.Errorf("%s: %s", server, got)
		}
	}
}
