package server_test

import (
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/ledger"
	pb "gritward/proto/gritward/v1"
)

// TestHomeTooSoon: the route of 77.9 km at 1.25 times the 27 km/h of the fastest group takes 138 min from 10:30: home at 12:47
// is too soon and at 12:48 is not; a rider home sooner is confirmed; turned back is another mark. Nothing is kept of a
// call that is refused.
func TestHomeTooSoon(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	for _, id := range []string{"ben", "ada"} {
		if _, err := w.join(id, ride.Name, club+"/members/"+id+"/bikes/bike-1", nil); err != nil {
			t.Fatal(told(err))
		}
	}
	w.setClock(time.Date(2026, 12, 13, 15, 0, 0, 0, time.UTC))
	mark := func(id, member string, what pb.Mark_What, hour, minute int) *pb.Mark {
		return &pb.Mark{Name: ride.Name + "/marks/" + id, Member: club + "/members/" + member, What: what,
			At: timestamppb.New(time.Date(2026, 12, 13, hour, minute, 0, 0, time.UTC))}
	}
	send := func(early bool, marks ...*pb.Mark) string {
		_, err := w.rolls.RecordMarks(w.as("lea"), &pb.RecordMarksRequest{Parent: ride.Name, Marks: marks, Early: early})
		return told(err)
	}
	got := send(false, mark("a1", "ada", pb.Mark_HOME, 14, 0), mark("b1", "ben", pb.Mark_HOME, 10, 33))
	want := "InvalidArgument | HOME_TOO_SOON | marks[1].at: Ben: home 3 min after the start, sooner than the 77.9 km could be ridden a quarter faster"
	if !strings.HasPrefix(got, want) || !strings.Contains(got, " which takes 138 min; mark who turned back as turned-back, or look at the time") {
		t.Errorf("%s", got)
	}
	ridden := func(id string) int32 {
		member, err := w.clubs.GetMember(w.as("sec"), &pb.GetMemberRequest{Name: club + "/members/" + id})
		if err != nil {
			t.Fatal(told(err))
		}
		return member.RidesRidden
	}
	if n := ridden("ada"); n != 0 {
		t.Errorf("ada has %d rides after a call that was refused", n)
	}
	for _, c := range []struct {
		early bool
		mark  *pb.Mark
		ok    bool
	}{
		{false, mark("b2", "ben", pb.Mark_HOME, 10, 29), false},
		{false, mark("b3", "ben", pb.Mark_HOME, 12, 47), false},
		{false, mark("b4", "ben", pb.Mark_TURNED_BACK, 10, 33), true},
		{true, mark("b5", "ben", pb.Mark_HOME, 12, 47), true},
		{false, mark("a2", "ada", pb.Mark_HOME, 12, 48), true},
	} {
		if got := send(c.early, c.mark); (got == "no error") != c.ok {
			t.Errorf("%v: %s", c.mark, got)
		}
	}
	if ridden("ada") != 1 || ridden("ben") != 0 { // who turned back has not ridden the ride
		t.Errorf("ada has %d rides, ben %d", ridden("ada"), ridden("ben"))
	}
}

// TestNobodyTurnsBackBeforeTheStart: as nobody is home before it.
func TestNobodyTurnsBackBeforeTheStart(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	if _, err := w.join("ada", ride.Name, club+"/members/ada/bikes/bike-1", nil); err != nil {
		t.Fatal(told(err))
	}
	_, err := w.rolls.RecordMarks(w.as("lea"), &pb.RecordMarksRequest{Parent: ride.Name, Marks: []*pb.Mark{{
		Name: ride.Name + "/marks/t", Member: club + "/members/ada", What: pb.Mark_TURNED_BACK}}})
	if got := told(err); !strings.Contains(got, "FIELD_INVALID | marks[0].what: nobody has turned back before the ride has started") {
		t.Errorf("%s", got)
	}

	// A group that left sooner than planned: who was taken to hospital from its first corner is not left out on the road.
	mark := func(name string, what pb.Mark_What, minutes int) error {
		_, err := w.rolls.RecordMarks(w.as("lea"), &pb.RecordMarksRequest{Parent: ride.Name, Marks: []*pb.Mark{{
			Name: ride.Name + "/marks/" + name, Member: club + "/members/ada", What: what,
			At: timestamppb.New(ride.StartAt.AsTime().Add(time.Duration(minutes) * time.Minute))}}})
		return err
	}
	w.setClock(ride.StartAt.AsTime().Add(-2 * time.Minute))
	if err := mark("left", pb.Mark_SET_OFF, -10); err != nil {
		t.Fatal(told(err))
	}
	if err := mark("before", pb.Mark_HANDED_OVER, -12); err == nil {
		t.Error("handed over before anybody had set off")
	}
	if err := mark("fell", pb.Mark_HANDED_OVER, -5); err != nil {
		t.Error(told(err))
	}
}

// TestWetByTheForecast: a ride without a roster, or a rider in none, is wet where the ride's forecast has rain on the way,
// though nobody entered a wet road.
func TestWetByTheForecast(t *testing.T) {
	for _, published := range []bool{false, true} {
		w := newWorld(t)
		ride := forecastRide(t, w)
		if _, err := w.readForecast("lea", ride.Name, forecastFile(t, "marrowdale.json")); err != nil {
			t.Fatal(told(err))
		}
		if published {
			w.publish("lea", ride.Name)
		}
		w.member("Uma", nil)
		facts := bike("late bike", 300)
		if _, err := w.join("uma", ride.Name, w.declare("uma", facts), nil); err != nil {
			t.Fatal(told(err))
		}
		w.setClock(time.Date(2026, 12, 13, 17, 0, 0, 0, time.UTC))
		_, err := w.rolls.RecordMarks(w.as("lea"), &pb.RecordMarksRequest{Parent: ride.Name, Marks: []*pb.Mark{{
			Name: ride.Name + "/marks/u", Member: club + "/members/uma", What: pb.Mark_HOME}}})
		if err != nil {
			t.Fatal(told(err))
		}
		wet := 0
		if err := w.ledger.View(w.ctx, "fenwick", func(tx *ledger.Tx) error {
			return tx.Ridden("uma", "bike-1", func(ridden *pb.RiddenRide) error {
				if ridden.Wet {
					wet++
				}
				return nil
			})
		}); err != nil {
			t.Fatal(err)
		}
		if wet != 1 {
			t.Errorf("published %v: %d wet rides", published, wet)
		}
	}
}

// TestNamesakes: an invite for a name that a member or an open invite has says so; one used, of a device or of another name
// does not count.
func TestNamesakes(t *testing.T) {
	w := newWorld(t)
	invite := func(made *pb.Invite) *pb.Invite {
		t.Helper()
		got, err := w.clubs.CreateInvite(w.as("sec"), &pb.CreateInviteRequest{Parent: club, Invite: made})
		if err != nil {
			t.Fatal(told(err))
		}
		return got
	}
	first := invite(&pb.Invite{DisplayName: "Osric Penhale"})
	if first.Note != "" {
		t.Errorf("the first: %q", first.Note)
	}
	second := "An invite for that name was made on 11 December 2026, 19:00 already, by sec, and is still open; if both are used, two members come of it."
	if got := invite(&pb.Invite{DisplayName: " osric penhale"}).Note; got != second {
		t.Errorf("the second: %q", got)
	}
	if got := invite(&pb.Invite{DisplayName: "Osric"}).Note; got != "" {
		t.Errorf("another name: %q", got)
	}
	w.accept(first.Code)
	if got := invite(&pb.Invite{DisplayName: "Osric Penhale"}).Note; !strings.HasPrefix(got, "There is a member called Osric Penhale already, ") {
		t.Errorf("a member: %q", got)
	}
	if got := invite(&pb.Invite{DisplayName: "Osric Penhale", ForMember: club + "/members/osric-penhale"}).Note; got != "" {
		t.Errorf("a device: %q", got)
	}
	invite(&pb.Invite{DisplayName: "Hetty"})
	w.setClock(friday.Add(15 * 24 * time.Hour))
	if got := invite(&pb.Invite{DisplayName: "Hetty"}).Note; got != "" {
		t.Errorf("one that ran out: %q", got)
	}
}

// TestWhomToAsk: a refusal names who may do it, a few of them, and nobody to a guest.
func TestWhomToAsk(t *testing.T) {
	w := newWorld(t)
	people(w)
	invite, err := w.clubs.CreateInvite(w.as("lea"), &pb.CreateInviteRequest{Parent: club, Invite: &pb.Invite{
		DisplayName: "Gus", Roles: []pb.Role{pb.Role_GUEST}, ForRide: w.ride("lea", sunday()).Name}})
	if err != nil {
		t.Fatal(told(err))
	}
	w.accept(invite.Code)
	adopt := func(as string) string {
		_, err := w.policies.AdoptPolicy(w.as(as), &pb.AdoptPolicyRequest{Parent: club, File: "x", Content: []byte("x")})
		return told(err)
	}
	if got := adopt("mia"); got != "PermissionDenied | NOT_ALLOWED | only for a secretary; ask Sec" {
		t.Errorf("%s", got)
	}
	if got := adopt("gus"); got != "PermissionDenied | NOT_ALLOWED | only for a secretary" {
		t.Errorf("%s", got)
	}
	for _, name := range []string{"Ann", "Bob", "Cyd"} {
		w.member(name, nil, pb.Role_SECRETARY)
	}
	w.suspend("ann")
	if got := adopt("mia"); got != "PermissionDenied | NOT_ALLOWED | only for a secretary; ask Bob or Cyd or Sec" {
		t.Errorf("%s", got)
	}
	_, err = w.bikes.DeclareBike(w.as("mia"), &pb.DeclareBikeRequest{Parent: club + "/members/gus", Facts: bike("b", 300)})
	if got := told(err); got != "PermissionDenied | NOT_ALLOWED | only for your own record" {
		t.Errorf("%s", got)
	}
}
