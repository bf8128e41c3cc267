package readiness_test

import (
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// A strike that is struck out counts for nothing, also where both were recorded at one instant.
func TestStruckOut(t *testing.T) {
	at := time.Date(2026, 12, 11, 19, 0, 0, 0, time.UTC)
	strike := func(name, strikes string) *pb.CareEntry {
		return &pb.CareEntry{Name: name, Work: pb.CareEntry_STRUCK_OUT, Strikes: strikes, RecordedAt: timestamppb.New(at)}
	}
	log := []*pb.CareEntry{{Name: "1", Work: pb.CareEntry_WASHED, RecordedAt: timestamppb.New(at)}, strike("2", "1"), strike("3", "2")}
	if got := readiness.StruckOut(log[:2], at); !got["1"] {
		t.Errorf("%v: the entry stands", got)
	}
	if got := readiness.StruckOut(log, at); got["1"] || !got["2"] {
		t.Errorf("%v: want only the strike struck out", got)
	}
	if got := readiness.StruckOut(log, at.Add(-time.Second)); len(got) != 0 {
		t.Errorf("%v before anything was recorded", got)
	}
}
