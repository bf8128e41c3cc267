package server_test

import (
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	pb "gritward/proto/gritward/v1"
)

// TestRodeHome marks riders home: the ride counts once for bike and member, however often it is sent.
func TestRodeHome(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	name := club + "/members/ben/bikes/bike-1"
	if _, err := w.join("ben", ride.Name, name, nil); err != nil {
		t.Fatal(told(err))
	}
	home := func(id, member string, at time.Time) error {
		_, err := w.rolls.RecordMarks(w.as("lea"), &pb.RecordMarksRequest{Parent: ride.Name, Marks: []*pb.Mark{{
			Name: ride.Name + "/marks/" + id, Member: club + "/members/" + member, What: pb.Mark_HOME, At: timestamppb.New(at)}}})
		return err
	}
	sunday := time.Date(2026, 12, 13, 14, 30, 0, 0, time.UTC)
	w.setClock(sunday)
	for _, id := range []string{"a1", "a1", "b2"} {
		if err := home(id, "ben", sunday); err != nil {
			t.Fatal(told(err))
		}
	}
	bike, err := w.bikes.GetBike(w.as("ben"), &pb.GetBikeRequest{Name: name})
	if err != nil || bike.RiddenKm < 77 || bike.RiddenKm > 79 {
		t.Errorf("ridden %g km: %v", bike.GetRiddenKm(), told(err))
	}
	member, err := w.clubs.GetMember(w.as("ben"), &pb.GetMemberRequest{Name: club + "/members/ben"})
	if err != nil || member.RidesRidden != 1 {
		t.Errorf("%d rides ridden: %v", member.GetRidesRidden(), told(err))
	}
	for _, test := range []struct{ got, want string }{
		{told(home("c3", "ada", sunday)), "no error"}, // who has no place counts in the roll call, with a doubt
		{told(home("e5", "nobody", sunday)), "InvalidArgument | FIELD_INVALID | marks[0].member: there is no member \"nobody\" | the request is not as it must be"},
		{told(home("d4", "ben", sunday.Add(time.Hour))), "InvalidArgument | FIELD_INVALID | marks[0].at: lies in the future; look at the device's clock | the request is not as it must be"},
	} {
		if test.got != test.want {
			t.Errorf("got  %s\nwant %s", test.got, test.want)
		}
	}
}

// TestCareLog appends to a care log and refuses entries that say too little or lie in the future.
func TestCareLog(t *testing.T) {
	w := newWorld(t)
	people(w)
	name := club + "/members/ben/bikes/bike-1"
	record := func(entry *pb.CareEntry) error {
		_, err := w.bikes.RecordCare(w.as("ben"), &pb.RecordCareRequest{Parent: name, Entry: entry})
		return err
	}
	for _, test := range []struct {
		entry *pb.CareEntry
		want  string
	}{
		{&pb.CareEntry{Work: pb.CareEntry_CHAIN_MEASURED, DoneOn: "2026-12-10", WearPct: proto.Float64(0.4)}, "no error"},
		{&pb.CareEntry{Work: pb.CareEntry_WASHED}, "no error"},
		{&pb.CareEntry{Work: pb.CareEntry_CHAIN_MEASURED, DoneOn: "2026-12-10"}, "InvalidArgument | FIELD_INVALID | entry.wear_pct: is needed: how much the chain has worn, in % | the request is not as it must be"},
		{&pb.CareEntry{Work: pb.CareEntry_WASHED, DoneOn: "2026-12-12"}, "InvalidArgument | FIELD_INVALID | entry.done_on: 2026-12-12 has not come yet; today is 2026-12-11 | the request is not as it must be"},
		{&pb.CareEntry{Work: pb.CareEntry_WASHED, DoneOn: "2026-12-10", WearPct: proto.Float64(0.4)}, "InvalidArgument | FIELD_INVALID | entry.wear_pct: goes with a chain measured, not with this work | the request is not as it must be"},
		{&pb.CareEntry{Work: pb.CareEntry_STRUCK_OUT, DoneOn: "2026-12-10"}, "InvalidArgument | FIELD_INVALID | entry.strikes: is needed: which entry is struck out | the request is not as it must be"},
		{&pb.CareEntry{Work: pb.CareEntry_PADS_RENEWED, DoneOn: "2026-12-10"}, "InvalidArgument | FIELD_INVALID | entry.end: is needed: front or rear | the request is not as it must be"},
		{&pb.CareEntry{Work: pb.CareEntry_STRUCK_OUT, DoneOn: "2026-12-10", Strikes: name + "/care/9"}, "NotFound | NOT_FOUND | there is no " + name + "/care/9"},
		{&pb.CareEntry{Work: pb.CareEntry_STRUCK_OUT, DoneOn: "2026-12-10", Strikes: name + "/care/1"}, "no error"},
	} {
		if got := told(record(test.entry)); got != test.want {
			t.Errorf("%v:\ngot  %s\nwant %s", test.entry, got, test.want)
		}
	}
	log, err := w.bikes.ListCare(w.as("ben"), &pb.ListCareRequest{Parent: name})
	if err != nil || len(log.Entries) != 3 || log.Entries[2].Name != name+"/care/3" || log.Entries[0].RecordedBy != club+"/members/ben" || log.Entries[1].DoneOn != "2026-12-11" {
		t.Errorf("%v: %v", log, told(err))
	}
}

// TestDatesPast refuses dates that have not come, each by its path.
func TestDatesPast(t *testing.T) {
	w := newWorld(t)
	people(w)
	facts := bike("new bike", 300)
	facts.Brakes = &pb.Brakes{Front: &pb.Brake{Kind: pb.Brake_RIM, LookedOn: "2026-12-12"}}
	facts.Lights[1].ChargedOn = "2026-02-30"
	_, err := w.bikes.DeclareBike(w.as("ben"), &pb.DeclareBikeRequest{Parent: club + "/members/ben", Facts: facts})
	got := told(err)
	for _, want := range []string{
		"facts.brakes.front.looked_on: 2026-12-12 has not come yet; today is 2026-12-11",
		`facts.lights[1].charged_on: "2026-02-30" is not a day of the calendar`,
	} {
		if !strings.Contains(got, want) {
			t.Errorf("%s does not say %q", got, want)
		}
	}
}

// TestSince tells who reads the newest issue what has changed since; a call-off makes the next issue.
func TestSince(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	for _, id := range []string{"lea", "ben", "ada", "bo"} {
		if _, err := w.join(id, ride.Name, club+"/members/"+id+"/bikes/bike-1", nil); err != nil {
			t.Fatal(told(err))
		}
	}
	w.publish("lea", ride.Name)
	_, err := w.rides.PublishRoster(w.as("lea"), &pb.PublishRosterRequest{Parent: ride.Name})
	if got := told(err); got != "FailedPrecondition | WRONG_STATE | nothing has changed since issue 1; nothing is published" {
		t.Errorf("published without a change: %s", got)
	}
	if _, err := w.rides.UpdateRide(w.as("lea"), &pb.UpdateRideRequest{
		Ride: &pb.Ride{Name: ride.Name, StartLocal: "2026-12-13T09:30"}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"start_local"}}}); err != nil {
		t.Fatal(told(err))
	}
	if _, err := w.rides.WithdrawSignup(w.as("bo"), &pb.WithdrawSignupRequest{Name: ride.Name + "/signups/bo"}); err != nil {
		t.Fatal(told(err))
	}
	newest := func() *pb.Roster {
		issue, err := w.rides.GetRoster(w.as("mia"), &pb.GetRosterRequest{Name: ride.Name + "/rosters/-"})
		if err != nil {
			t.Fatal(told(err))
		}
		return issue
	}
	want := "The start is now Sunday 13 December 2026, 09:30; it was Sunday 13 December 2026, 10:30.\nBo has withdrawn."
	if got := strings.Join(newest().Since, "\n"); got != want {
		t.Errorf("since: %s\nwant %s", got, want)
	}
	if _, err := w.rides.CallOffRide(w.as("lea"), &pb.CallOffRideRequest{Name: ride.Name, Reason: "Ice."}); err != nil {
		t.Fatal(told(err))
	}
	off := newest()
	if off.Number != 2 || off.Ride.State != pb.Ride_CALLED_OFF || strings.Join(off.Changes, "") != "The ride is called off: Ice." {
		t.Errorf("issue %d, state %s, changes %q", off.Number, off.Ride.State, off.Changes)
	}
}

// TestMorePlaces raises the places: those who wait move up, the longest first, and nobody overtakes them.
func TestMorePlaces(t *testing.T) {
	w := newWorld(t)
	people(w)
	w.declare("mia", bike("winter bike", 300))
	asked := sunday()
	asked.Places = 1
	ride := w.ride("lea", asked)
	for i, id := range []string{"lea", "ben", "ada", "bo"} {
		w.setClock(friday.Add(time.Duration(i) * time.Minute))
		if _, err := w.join(id, ride.Name, club+"/members/"+id+"/bikes/bike-1", nil); err != nil {
			t.Fatal(told(err))
		}
	}
	for _, test := range []struct {
		places int32
		want   string
	}{
		{3, "Lea IN, Ben IN, Ada IN, Bo WAITING"},
		{0, "Lea IN, Ben IN, Ada IN, Bo IN"},
	} {
		if _, err := w.rides.UpdateRide(w.as("lea"), &pb.UpdateRideRequest{
			Ride: &pb.Ride{Name: ride.Name, Places: test.places}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"places"}}}); err != nil {
			t.Fatal(told(err))
		}
		listed, err := w.rides.ListSignups(w.as("lea"), &pb.ListSignupsRequest{Parent: ride.Name})
		if err != nil {
			t.Fatal(told(err))
		}
		var got []string
		for _, signup := range listed.Signups {
			got = append(got, signup.DisplayName+" "+signup.State.String())
		}
		if s := strings.Join(got, ", "); s != test.want {
			t.Errorf("%d places: %s, want %s", test.places, s, test.want)
		}
	}
}

// TestDue lists what is due on a member's bikes: what the policy asks and the bike lacks, what holds the bike first.
func TestDue(t *testing.T) {
	w := newWorld(t)
	people(w)
	due, err := w.bikes.ListDue(w.as("ben"), &pb.ListDueRequest{Parent: club + "/members/ben"})
	if err != nil || len(due.Items) == 0 {
		t.Fatalf("%v %v", due, told(err))
	}
	declaration := false
	for i, item := range due.Items {
		if item.What == "" || item.Why == "" || item.Bike != club+"/members/ben/bikes/bike-1" {
			t.Errorf("%v", item)
		}
		if i > 0 && (item.Standing > due.Items[i-1].Standing || item.Standing == due.Items[i-1].Standing && item.Urgency < due.Items[i-1].Urgency) {
			t.Errorf("%s comes after what is less pressing", item.What)
		}
		for _, text := range []string{item.What, item.Why} {
			if strings.Contains(text, "the start") || strings.Contains(text, "this group") || item.Cause == 0 {
				t.Errorf("no ride was given: %v", item)
			}
		}
		// Certified on 11 December, good for 28 days: the last day is 8 January.
		declaration = declaration || item.Rule == "declaration" && item.Urgency != pb.DueItem_OVERDUE && strings.HasPrefix(item.DueOn, "2027-01-0")
	}
	if !declaration {
		t.Errorf("certifying again is not told: %v", due.Items)
	}
	one, err := w.bikes.ListDue(w.as("ben"), &pb.ListDueRequest{Parent: club + "/members/ben/bikes/bike-1"})
	if err != nil || len(one.Items) != len(due.Items) {
		t.Errorf("%d and %d items: %v", len(one.GetItems()), len(due.Items), told(err))
	}
}

// TestInEffect reads a bike with what its care log says since: what a member certifies again.
func TestInEffect(t *testing.T) {
	w := newWorld(t)
	people(w)
	name := club + "/members/ben/bikes/bike-1"
	w.setClock(friday.Add(24 * time.Hour))
	if _, err := w.bikes.RecordCare(w.as("ben"), &pb.RecordCareRequest{Parent: name, Entry: &pb.CareEntry{
		Work: pb.CareEntry_PADS_MEASURED, End: pb.End_FRONT, ThicknessMm: proto.Float64(0.3)}}); err != nil {
		t.Fatal(told(err))
	}
	bike, err := w.bikes.GetBike(w.as("ben"), &pb.GetBikeRequest{Name: name})
	if err != nil {
		t.Fatal(told(err))
	}
	if got := bike.InEffect.GetBrakes().GetFront().GetPadMm(); got != 0.3 {
		t.Errorf("front pads in effect %g mm, want 0.3", got)
	}
	if got := bike.Declaration.Facts.Brakes.Front.GetPadMm(); got != 4 {
		t.Errorf("the declaration was changed: %g mm", got)
	}
}
