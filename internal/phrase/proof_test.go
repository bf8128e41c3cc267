package phrase_test

import (
	"strings"
	"testing"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

func TestProof(t *testing.T) {
	tests := []struct {
		placement *pb.Placement
		want      string
	}{
		{nil, ""},
		{&pb.Placement{}, "not proven the best"},
		{&pb.Placement{Proven: true}, "Nobody can be placed"},
		{&pb.Placement{Placed: 12, Proven: true}, "best placement there is."},
		{&pb.Placement{Placed: 12, Proven: true, Checked: true}, "and its proof was checked"},
		{&pb.Placement{Placed: 12, Checked: true, Bound: &pb.PlacementBound{Placed: 13}}, "at most 13 riders could be placed"},
		{&pb.Placement{Placed: 12, Checked: true, Bound: &pb.PlacementBound{Placed: 12}}, "As many riders are placed as can be"},
		{&pb.Placement{Placed: 12, Proven: true, Doubt: "case 1"}, "does not hold, so it may not be the best"},
	}
	for _, tt := range tests {
		if got := phrase.Proof(tt.placement); tt.want == "" && got != "" || !strings.Contains(got, tt.want) {
			t.Errorf("%v: %q, want %q", tt.placement, got, tt.want)
		}
	}
}
