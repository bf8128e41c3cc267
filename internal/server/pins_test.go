package server_test

import (
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// pinned is a ride of two groups that both run, with everybody signed up; mia's rear lamp is too short for easy.
func pinned(t *testing.T) (*world, *pb.Ride) {
	w := newWorld(t)
	people(w)
	facts := bike("mint bike", 300)
	facts.Lights[1].RuntimeMin = proto.Float64(60)
	mint := w.declare("mia", facts)
	ride := w.ride("lea", sunday())
	for _, id := range []string{"lea", "ben", "ada", "bo"} {
		if _, err := w.join(id, ride.Name, club+"/members/"+id+"/bikes/bike-1", nil); err != nil {
			t.Fatal(told(err))
		}
	}
	if _, err := w.join("mia", ride.Name, mint, &pb.Signup{PreferredGroup: "easy"}); err != nil {
		t.Fatal(told(err))
	}
	return w, ride
}

func (w *world) pin(member, group, override string, ride *pb.Ride) (*pb.Signup, error) {
	return w.rides.PinRider(w.as("lea"), &pb.PinRiderRequest{Parent: ride.Name, Member: club + "/members/" + member,
		Group: group, Reason: "wants company", OverrideReason: override})
}

// TestPinNeedsAnOverride: a pin that a held bike is in the way of is refused with the rule, and taken with a reason, which
// stands on the roster; a new declaration needs a new decision, and the pin that no longer holds is named.
func TestPinNeedsAnOverride(t *testing.T) {
	w, ride := pinned(t)
	_, err := w.pin("mia", "easy", "", ride)
	if got := told(err); !strings.HasPrefix(got, "FailedPrecondition | HELD_BIKE | easy: The bike of Mia is held in Easy: the light at the rear is ") {
		t.Fatalf("got %s", got)
	}
	_, err = w.pin("mia", "easy", "borrows a lamp", ride) // a reason alone does not do for a held bike
	if got := told(err); !strings.HasPrefix(got, "FailedPrecondition | HELD_BIKE | easy: The bike of Mia is held in Easy: the light at the rear is ") ||
		!strings.Contains(fault.Read(err).Message, "confirm that you have seen it") {
		t.Fatalf("got %s", got)
	}
	signup, err := w.rides.PinRider(w.as("lea"), &pb.PinRiderRequest{Parent: ride.Name, Member: club + "/members/mia",
		Group: "easy", Reason: "wants company", OverrideReason: "borrows a lamp", HeldBikeRides: true})
	if err != nil {
		t.Fatal(told(err))
	}
	if sets := signup.GetPin().GetOverrides(); len(sets) != 1 || sets[0].Rule != "rear-light" || sets[0].Reason != "borrows a lamp" {
		t.Fatalf("set aside: %v", sets)
	}
	last := w.watchRide(w.as("bo"), ride.Name, proto.Int64(6))
	if got := next(t, last); got != "7 SIGNUPS_CHANGED mia fixed in easy" {
		t.Errorf("who watches is told %q", got)
	}
	issue := w.publish("lea", ride.Name)
	if got := groupOf(issue, "mia"); got != "easy" {
		t.Errorf("mia rides in %q", got)
	}
	if sets := issue.Placement.Overrides; len(sets) != 1 || sets[0].What != "the rule rear-light in Easy" {
		t.Errorf("the roster tells of %v", sets)
	}
	if fixed := issue.Placement.Fixed; len(fixed) != 1 || !fixed[0].Holds || fixed[0].Reason != "wants company" {
		t.Errorf("the roster tells of %v", fixed)
	}

	facts := bike("mint bike", 300)
	facts.Lights[1].RuntimeMin = proto.Float64(50)
	w.declare("mia", facts)
	issue = w.publish("lea", ride.Name)
	fixed := issue.Placement.Fixed
	if len(fixed) != 1 || fixed[0].Holds || !strings.Contains(fixed[0].Why, "The bike of Mia is held in Easy") || len(issue.Placement.Overrides) > 0 {
		t.Errorf("after another declaration: %v %v", fixed, issue.Placement.Overrides)
	}
	if moved := issue.Placement.Moved; len(moved) != 1 || moved[0].Cause != pb.Move_HELD ||
		!strings.HasPrefix(moved[0].Words, "Mia has no place any more, and was in Easy: held in Easy since the light at the rear is ") {
		t.Errorf("moved: %v", moved)
	}

	if _, err := w.rides.UnpinRider(w.as("lea"), &pb.UnpinRiderRequest{Parent: ride.Name, Member: club + "/members/mia"}); err != nil {
		t.Fatal(told(err))
	}
	if got := groupOf(w.publish("lea", ride.Name), "mia"); got != "brisk" {
		t.Errorf("without the pin mia rides in %q", got)
	}
	if _, err := w.rides.UnpinRider(w.as("lea"), &pb.UnpinRiderRequest{Parent: ride.Name, Member: club + "/members/mia"}); !strings.Contains(told(err), "WRONG_STATE") {
		t.Errorf("unpinned twice: %v", told(err))
	}
}

// TestPinGroup: a group that the leader stops does not run, its riders are told why they moved, and a group that must run
// without a back marker needs an override.
func TestPinGroup(t *testing.T) {
	w, ride := pinned(t)
	w.publish("lea", ride.Name)
	group := func(id string, runs bool, override string) error {
		_, err := w.rides.PinGroup(w.as("lea"), &pb.PinGroupRequest{
			Parent: ride.Name, Group: id, Runs: runs, Reason: "ice on the top road", OverrideReason: override})
		return err
	}
	if err := group("brisk", false, ""); err != nil {
		t.Fatal(told(err))
	}
	issue := w.publish("lea", ride.Name)
	if len(issue.Placement.Idle) != 1 || issue.Placement.Idle[0].Why != "the leader fixed that it does not run: ice on the top road" {
		t.Errorf("idle: %v", issue.Placement.Idle)
	}
	want := "Ben moves from Brisk to Easy: Brisk no longer runs: the leader fixed it, ice on the top road."
	if changes := strings.Join(issue.Changes, "\n"); !strings.Contains(changes, want) {
		t.Errorf("changes:\n%s\nwant %s", changes, want)
	}
	if _, err := w.pin("ben", "brisk", "all the same", ride); !strings.Contains(told(err), "The leader fixed that Brisk does not run") {
		t.Errorf("a rider is fixed in a group that does not run: %v", told(err))
	}
	if _, err := w.rides.UnpinGroup(w.as("lea"), &pb.UnpinGroupRequest{Parent: ride.Name, Group: "brisk"}); err != nil {
		t.Fatal(told(err))
	}
	if _, err := w.rides.WithdrawSignup(w.as("ben"), &pb.WithdrawSignupRequest{Name: ride.Name + "/signups/ben"}); err != nil {
		t.Fatal(told(err))
	}
	if _, err := w.pin("bo", "easy", "", ride); err != nil {
		t.Fatal(told(err))
	}
	if got := told(group("brisk", true, "")); !strings.HasPrefix(got, "FailedPrecondition | WRONG_STATE | brisk: ") || !strings.Contains(got, "Brisk needs a back marker") {
		t.Errorf("got %s", got)
	}
	if err := group("brisk", true, "Lea looks back herself"); err != nil {
		t.Fatal(told(err))
	}
	issue = w.publish("lea", ride.Name)
	if len(issue.Placement.Idle) != 0 || len(issue.Placement.Overrides) != 1 || issue.Placement.Overrides[0].What != "the need for a back marker in Brisk" {
		t.Errorf("idle %v, set aside %v", issue.Placement.Idle, issue.Placement.Overrides)
	}
}

// TestPinRefused: what is not as it must be, and who may not.
func TestPinRefused(t *testing.T) {
	w, ride := pinned(t)
	if _, err := w.pin("mia", "none", "", ride); !strings.Contains(told(err), `FIELD_INVALID | group: there is no group "none"`) {
		t.Error(told(err))
	}
	if _, err := w.pin("sec", "easy", "", ride); !strings.Contains(told(err), "NOT_FOUND") {
		t.Error(told(err))
	}
	if _, err := w.rides.PinRider(w.as("lea"), &pb.PinRiderRequest{Parent: ride.Name, Member: club + "/members/mia", Group: "easy"}); !strings.Contains(told(err), "FIELD_INVALID | reason") {
		t.Error(told(err))
	}
	if _, err := w.rides.PinRider(w.as("mia"), &pb.PinRiderRequest{Parent: ride.Name, Member: club + "/members/mia", Group: "easy", Reason: "x"}); !strings.Contains(told(err), "NOT_ALLOWED") {
		t.Error(told(err))
	}
}

// TestWhy tells a rider why, what is in the way, and what would change it; of others neither name nor bike.
func TestWhy(t *testing.T) {
	w, ride := pinned(t)
	why, err := w.rides.ExplainPlace(w.as("mia"), &pb.ExplainPlaceRequest{Name: ride.Name + "/signups/mia"})
	if err != nil {
		t.Fatal(told(err))
	}
	if why.Group != "brisk" || !strings.Contains(why.Why, "Easy was wished for (held: the light at the rear is ") {
		t.Errorf("%v", why)
	}
	easy := why.Options[1]
	if easy.Verdict != pb.GroupOption_RULED_OUT || len(easy.Remedies) == 0 || easy.Remedies[0].Group != "easy" ||
		!strings.Contains(easy.Remedies[0].Words, "rear lamp") {
		t.Errorf("easy: %v", easy)
	}
	if text := why.String(); strings.Contains(text, "Ada") || strings.Contains(text, "Ben") || strings.Contains(text, "Lea") {
		t.Errorf("tells of others: %s", text)
	}
	// What was said to change it does.
	facts := bike("mint bike", 300)
	w.declare("mia", facts)
	if got := groupOf(w.publish("lea", ride.Name), "mia"); got != "easy" {
		t.Errorf("with the lamp mia rides in %q", got)
	}
	if _, err := w.rides.ExplainPlace(w.as("mia"), &pb.ExplainPlaceRequest{Name: ride.Name + "/signups/ben"}); !strings.Contains(told(err), "NOT_ALLOWED") {
		t.Errorf("mia asks about ben: %v", told(err))
	}
	if _, err := w.rides.ExplainPlace(w.as("lea"), &pb.ExplainPlaceRequest{Name: ride.Name + "/signups/sec"}); !strings.Contains(told(err), "NOT_FOUND") {
		t.Errorf("who has not signed up: %v", told(err))
	}
}
