package ledger

import (
	"errors"
	"fmt"
	"testing"

	"gritward/internal/fault"
	"gritward/internal/store"
	pb "gritward/proto/gritward/v1"
)

// TestTold has what the store refuses told to callers so that they know whether to try again, whatever lies around it.
func TestTold(t *testing.T) {
	for of, want := range map[error]pb.Reason{
		&store.DamagedError{}: pb.Reason_STORE_DAMAGED,
		store.ErrBusy:         pb.Reason_BUSY,
		store.ErrUnreachable:  pb.Reason_UNAVAILABLE,
		store.ErrUncertain:    pb.Reason_UNAVAILABLE,
		store.ErrClosed:       pb.Reason_UNAVAILABLE,
	} {
		err := told(fmt.Errorf("while it wrote: %w", of))
		if !fault.Is(err, want) || !errors.Is(err, of) {
			t.Errorf("%v is told as %v, want %v with its cause", of, err, want)
		}
	}
	other := errors.New("anything else")
	if got := told(other); got != other {
		t.Errorf("another error became %v", got)
	}
}
