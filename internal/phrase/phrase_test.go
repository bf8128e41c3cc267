package phrase_test

import (
	"math"
	"testing"
	"time"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"
)

func TestNumbers(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{phrase.Number(23.5, 1), "23.5"}, {phrase.Number(24, 1), "24"}, {phrase.Number(-0.04, 1), "0"}, {phrase.Number(-4, 0), "−4"},
		{phrase.Number(math.NaN(), 0), "?"}, {phrase.Number(math.Inf(-1), 0), "?"},
		{phrase.Km(41249), "41.2 km"}, {phrase.Sight(999.4), "999 m"}, {phrase.Sight(1000), "1 km"}, {phrase.Degrees(0.4), "0 °C"},
		{phrase.Span(59.9), "59 min"}, {phrase.AtLeast(59.1), "1 h"}, {phrase.Span(65), "1 h 5 min"}, {phrase.Span(math.NaN()), "?"},
		{phrase.Counted(1, "rider", "riders"), "1 rider"}, {phrase.Counted(0, "rider", "riders"), "0 riders"},
		{phrase.List(nil), ""}, {phrase.List([]string{"a"}), "a"}, {phrase.List([]string{"a", "b", "c"}), "a, b and c"},
		{phrase.Sentence(" élan "), "Élan."}, {phrase.Sentence("Who?"), "Who?"}, {phrase.Sentence(""), ""}, {phrase.Bare("so. "), "so"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

// TestIntoTheDark: who rides into the dark and stays in it is home as long after dark begins as it rides in it, in the same words.
func TestIntoTheDark(t *testing.T) {
	for _, c := range []struct {
		margin, dark      float64
		inDark, homeAfter string
	}{
		{-38.2, 37.9, "39 min", "39 min"}, {-37.9, 38.2, "39 min", "39 min"}, {-38, 38, "38 min", "38 min"},
		{-38, 144, "2 h 24 min", "38 min"}, // in the dark in the morning, too
		{12, 144, "2 h 24 min", "0 min"},
	} {
		plan := &pb.GroupPlan{MarginMin: &c.margin, DarkMin: c.dark}
		if got := phrase.AtLeast(phrase.DarkMin(plan)); got != c.inDark {
			t.Errorf("%v: %s in the dark, want %s", c, got, c.inDark)
		}
		if got := phrase.AfterDark(plan); c.margin < 0 && got != c.homeAfter {
			t.Errorf("%v: home %s after dark begins, want %s", c, got, c.homeAfter)
		}
	}
}

func at(hour, min int) *timestamppb.Timestamp {
	return timestamppb.New(time.Date(2026, time.December, 13, hour, min, 30, 0, time.UTC))
}

func TestWatch(t *testing.T) {
	w := phrase.WatchOf("Europe/Oslo", at(9, 0))
	for _, c := range []struct{ got, want string }{
		{w.Clock(at(9, 0)), "10:00"}, {w.Clock(at(23, 30)), "00:30 on Mon 14 Dec"}, {w.Clock(nil), "not known"}, {w.Date(nil), ""},
		{w.Stamp(at(9, 0)), "Sunday 13 December 2026, 10:00"}, {w.Zone(), "Europe/Oslo"},
		{phrase.WatchOf("Local", nil).Zone(), "UTC"}, {phrase.WatchOf("Nowhere/None", nil).Clock(at(9, 0)), "09:00"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

func TestStartInLight(t *testing.T) {
	plan := &pb.RidePlan{DarkEndsAt: at(8, 0), Margin: durationpb.New(30 * time.Minute)}
	lit := []*pb.LightSpan{{Lit: true, FromAt: at(8, 0), ToAt: at(8, 30)}, {FromAt: at(8, 30), ToAt: at(12, 0)}}
	for _, c := range []struct {
		name  string
		group *pb.GroupPlan
		want  phrase.Start
	}{
		{"no latest", &pb.GroupPlan{StartAt: at(9, 0)}, phrase.NoStart},
		{"dark too long", &pb.GroupPlan{StartAt: at(9, 0), LatestStartAt: at(8, 10)}, phrase.NeverUnlit},
		{"out of the dark", &pb.GroupPlan{StartAt: at(8, 0), LatestStartAt: at(11, 0), Light: lit}, phrase.BetweenOnly},
		{"after dark", &pb.GroupPlan{StartAt: at(18, 0), LatestStartAt: at(11, 0), Light: []*pb.LightSpan{{Dark: true, Lit: true}}}, phrase.StartInDark},
		{"late", &pb.GroupPlan{StartAt: at(12, 0), LatestStartAt: at(11, 0)}, phrase.StartTooLate},
		{"in time", &pb.GroupPlan{StartAt: at(9, 0), LatestStartAt: at(11, 0)}, phrase.StartUntilThen},
		{"fog", &pb.GroupPlan{StartAt: at(8, 0), LatestStartAt: at(8, 10), Circumstances: []pb.Circumstance{pb.Circumstance_POOR_VISIBILITY}}, phrase.StartUntilThen},
	} {
		what, earliest, _ := phrase.StartInLight(plan, c.group)
		if what != c.want || (earliest != nil) != (c.want == phrase.BetweenOnly) {
			t.Errorf("%s: %v, %v; want %v", c.name, what, earliest, c.want)
		}
	}
	// Dark ends at 08:00:30, the margin is 30 min: the full minute after 08:30:30.
	if _, earliest, _ := phrase.StartInLight(plan, &pb.GroupPlan{StartAt: at(8, 0), LatestStartAt: at(11, 0), Light: lit}); !earliest.AsTime().Equal(time.Date(2026, 12, 13, 8, 31, 0, 0, time.UTC)) {
		t.Errorf("earliest start without lights %v", earliest.AsTime())
	}
}

// TestLateToDo tells each remedy once, with all whom it helps, without what is told beside the rider.
func TestLateToDo(t *testing.T) {
	late := &pb.LateStart{Groups: []*pb.LateGroup{
		{Worse: []*pb.LateRider{
			{DisplayName: "Ida", Findings: []*pb.Finding{{Shortfall: "20 min too short", Remedy: "20 min too short. Charge the lamp."}, {Remedy: "Fit a flap."}}},
			{DisplayName: "Bo", Findings: []*pb.Finding{{Remedy: "Charge the lamp."}, {Remedy: "Charge the lamp."}, {Shortfall: "no lamp", Remedy: "No lamp."}}},
		}},
		{Worse: []*pb.LateRider{{DisplayName: "Cy", Findings: []*pb.Finding{{Remedy: "Fit a flap."}}}}},
	}}
	want := []*phrase.ToDo{{What: "Charge the lamp.", Who: []string{"Ida", "Bo"}}, {What: "Fit a flap.", Who: []string{"Ida", "Cy"}}}
	if diff := cmp.Diff(want, phrase.LateToDo(late)); diff != "" {
		t.Error(diff)
	}
}
