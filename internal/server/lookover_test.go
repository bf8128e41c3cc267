package server_test

import (
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

func (w *world) look(member, ride, id string, found, fixed []*pb.Found) (*pb.RecordLookOverResponse, error) {
	return w.starts.RecordLookOver(w.as("lea"), &pb.RecordLookOverRequest{
		Parent: ride, Member: club + "/members/" + member, Found: found, Fixed: fixed, RequestId: id})
}

func standingIn(all []*pb.Assessment, group string) pb.Standing {
	for _, one := range all {
		if one.Group == group {
			return one.Standing
		}
	}
	return pb.Standing_STANDING_UNSPECIFIED
}

// TestLookOver: a rear light found dead holds the bike in the group that is out in the dusk, for this ride only and beside
// the declaration; the roll call has the mark, the member sees the doubt; a lamp lent lifts the hold; fixed takes it back.
func TestLookOver(t *testing.T) {
	w, ride := carPark(t)
	dead := []*pb.Found{{What: pb.Found_LIGHT_DEAD, End: pb.End_REAR}}
	w.setClock(onSunday(10, 22))
	looked, err := w.look("ada", ride.Name, "once", dead, nil)
	if err != nil {
		t.Fatal(told(err))
	}
	if looked.Group != "easy" || !looked.PlaceAnew || standingIn(looked.Before, "easy") == pb.Standing_HELD || standingIn(looked.After, "easy") != pb.Standing_HELD {
		t.Errorf("looked over: %v", looked)
	}
	said := ""
	for _, finding := range looked.After[1].Findings {
		if finding.Standing == pb.Standing_HELD {
			said += finding.Declared
		}
	}
	if want := "looked over 10:22 by Lea: rear light dead; declared 11 Dec 2026: "; !strings.HasPrefix(said, want) {
		t.Errorf("the finding says %q, want %q", said, want)
	}
	again, err := w.look("ada", ride.Name, "once", dead, nil)
	if err != nil || !proto.Equal(again.LookOver, looked.LookOver) || standingIn(again.Before, "easy") != standingIn(looked.Before, "easy") {
		t.Errorf("sent again: %v %s", again, told(err))
	}
	call, err := w.rolls.GetRollCall(w.as("lea"), &pb.GetRollCallRequest{Name: ride.Name})
	if err != nil {
		t.Fatal(told(err))
	}
	for _, roll := range call.Riders {
		if roll.DisplayName == "Ada" && (roll.Last.GetWhat() != pb.Mark_LOOKED_OVER || roll.Last.GetNote() != "rear light dead") {
			t.Errorf("roll call: %v", roll)
		}
	}
	bike, err := w.bikes.GetBike(w.as("ada"), &pb.GetBikeRequest{Name: club + "/members/ada/bikes/bike-1"})
	if err != nil || len(bike.Doubts) != 1 || len(bike.Declaration.Facts.Lights) != 2 || len(bike.InEffect.Lights) != 2 {
		t.Errorf("the member sees %v %s", bike, told(err))
	}
	other, err := w.bikes.AssessBike(w.as("ada"), &pb.AssessBikeRequest{Name: bike.Name, LitMin: 30})
	if err != nil || other.Assessments[0].Standing == pb.Standing_HELD {
		t.Errorf("a day without the ride: %v %s", other, told(err))
	}
	if issue := w.publish("lea", ride.Name); issue.Number != 2 || groupOf(issue, "ada") == "easy" {
		t.Errorf("issue %d has Ada in %q", issue.Number, groupOf(issue, "ada"))
	}
	lent, err := w.look("ada", ride.Name, "", []*pb.Found{{What: pb.Found_LIGHT_LENT, End: pb.End_REAR, RuntimeMin: proto.Float64(600)}}, nil)
	if err != nil || standingIn(lent.After, "easy") == pb.Standing_HELD || standingIn(lent.Before, "easy") != pb.Standing_HELD {
		t.Errorf("lent: %v %s", lent, told(err))
	}
	gone := []*pb.Found{dead[0], {What: pb.Found_LIGHT_LENT, End: pb.End_REAR}}
	fixed, err := w.look("ada", ride.Name, "", nil, gone)
	if err != nil || standingIn(fixed.After, "easy") != standingIn(looked.Before, "easy") {
		t.Errorf("fixed: %v %s", fixed, told(err))
	}
	if bike, err = w.bikes.GetBike(w.as("ada"), &pb.GetBikeRequest{Name: bike.Name}); err != nil || len(bike.Doubts) != 0 {
		t.Errorf("fixed, and still in doubt: %v %s", bike.GetDoubts(), told(err))
	}
}

// TestLookOverRefused: facts that are none, riders who are not there, riders on the road.
func TestLookOverRefused(t *testing.T) {
	w, ride := carPark(t)
	w.setClock(onSunday(10, 22))
	minutes := proto.Float64(60)
	for name, c := range map[string]struct {
		found []*pb.Found
		want  string
	}{
		"unknown fact":        {[]*pb.Found{{What: 99, End: pb.End_REAR}}, "FIELD_INVALID | found[0].what: "},
		"no fact":             {[]*pb.Found{{End: pb.End_REAR}}, "FIELD_INVALID | found[0].what: "},
		"no end":              {[]*pb.Found{{What: pb.Found_TYRE_CUT}}, "FIELD_INVALID | found[0].end: "},
		"a lamp for how long": {[]*pb.Found{{What: pb.Found_LIGHT_LENT, End: pb.End_REAR}}, "FIELD_INVALID | found[0].runtime_min: "},
		"minutes of a tyre":   {[]*pb.Found{{What: pb.Found_TYRE_CUT, End: pb.End_REAR, RuntimeMin: minutes}}, "FIELD_INVALID | found[0].runtime_min: "},
		"pads of a tyre":      {[]*pb.Found{{What: pb.Found_TYRE_CUT, End: pb.End_REAR, PadMm: minutes}}, "FIELD_INVALID | found[0].pad_mm: "},
		"a label of a tyre":   {[]*pb.Found{{What: pb.Found_TYRE_CUT, End: pb.End_REAR, Label: "x"}}, "FIELD_INVALID | found[0].label: "},
		"far too many":        {make([]*pb.Found, 21), "FIELD_INVALID | found: "},
		"a lamp for ever":     {[]*pb.Found{{What: pb.Found_LIGHT_LENT, End: pb.End_REAR, RuntimeMin: proto.Float64(1e9)}}, "FIELD_INVALID | found[0].runtime_min: "},
	} {
		for i := range c.found {
			if c.found[i] == nil {
				c.found[i] = &pb.Found{What: pb.Found_TYRE_CUT, End: pb.End_REAR}
			}
		}
		if _, err := w.look("ada", ride.Name, "", c.found, nil); !strings.Contains(told(err), c.want) {
			t.Errorf("%s: %s", name, told(err))
		}
	}
	for member, want := range map[string]string{"sec": "NOT_FOUND", "nobody": "NOT_FOUND"} {
		if _, err := w.look(member, ride.Name, "", nil, nil); !strings.Contains(told(err), want) {
			t.Errorf("%s: %s", member, told(err))
		}
	}
	w.setClock(onSunday(10, 40))
	for id, what := range map[string]pb.Mark_What{"on": pb.Mark_SIGNED_ON, "off": pb.Mark_SET_OFF} {
		if err := w.mark("lea", ride.Name, id, "lea", what, 10, 30); err != nil {
			t.Fatal(told(err))
		}
	}
	if _, err := w.look("lea", ride.Name, "", nil, nil); !strings.Contains(told(err), "RIDE_OVER | Lea has set off") {
		t.Errorf("on the road: %s", told(err))
	}
	if _, err := w.look("ada", ride.Name, "", nil, nil); err != nil {
		t.Errorf("Easy has not set off: %s", told(err))
	}
}

// TestLookOverSentLate: what was looked over before the rider set off is taken hours later, by the time at which it was done and
// a clock 72 min slow; what was looked over on the road is not. Of two look-overs the later by its own time counts.
func TestLookOverSentLate(t *testing.T) {
	w, ride := carPark(t)
	w.setClock(onSunday(10, 22))
	dead := []*pb.Found{{What: pb.Found_LIGHT_DEAD, End: pb.End_REAR}}
	if _, err := w.rolls.RecordMarks(w.as("lea"), &pb.RecordMarksRequest{Parent: ride.Name, Marks: []*pb.Mark{
		{Name: ride.Name + "/marks/on", Member: club + "/members/ada", What: pb.Mark_SET_OFF, At: timestamppb.New(onSunday(10, 22))}}}); err != nil {
		t.Fatal(told(err))
	}
	w.setClock(onSunday(15, 0))
	slow := func(hour, minute int) *timestamppb.Timestamp {
		return timestamppb.New(onSunday(hour, minute).Add(-72 * time.Minute))
	}
	late := func(id string, at *timestamppb.Timestamp, found []*pb.Found, fixed bool) (*pb.RecordLookOverResponse, error) {
		return w.starts.RecordLookOver(w.as("lea"), &pb.RecordLookOverRequest{Parent: ride.Name, Member: club + "/members/ada", Found: found, AllFixed: fixed,
			RequestId: id, At: at, DeviceNow: slow(15, 0)})
	}
	if _, err := late("road", slow(10, 30), dead, false); fault.Read(err).Reason != pb.Reason_RIDE_OVER {
		t.Errorf("looked over on the road: %v", err)
	}
	if fixed, err := late("fixed", slow(10, 20), nil, true); err != nil || !fixed.LookOver.At.AsTime().Equal(onSunday(10, 20)) {
		t.Fatalf("%v %v", fixed, told(err))
	}
	for range 2 { // sent twice it is done once
		found, err := late("dead", slow(10, 15), dead, false)
		if err != nil || standingIn(found.After, "easy") == pb.Standing_HELD {
			t.Errorf("found dead at 10:15, and fixed at 10:20: %v %v", found, told(err))
		}
	}
	if _, err := late("future", slow(18, 0), dead, false); fault.Read(err).Reason != pb.Reason_FIELD_INVALID {
		t.Errorf("looked over in the future: %v", err)
	}
}
