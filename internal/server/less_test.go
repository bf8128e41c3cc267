package server_test

import (
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// TestExplainedAnew: why a rider rides where is told the same when it is asked again, and anew once something has changed.
func TestExplainedAnew(t *testing.T) {
	w, ride := pinned(t)
	explain := func(who string) *pb.Explanation {
		said, err := w.rides.ExplainPlace(w.as(who), &pb.ExplainPlaceRequest{Name: ride.Name + "/signups/mia"})
		if err != nil {
			t.Fatal(told(err))
		}
		return said
	}
	first := explain("mia")
	if !proto.Equal(first, explain("mia")) || !proto.Equal(first, explain("lea")) {
		t.Error("asked again, it is told otherwise")
	}
	if _, err := w.rides.PinRider(w.as("lea"), &pb.PinRiderRequest{Parent: ride.Name, Member: club + "/members/mia",
		Group: "easy", Reason: "wants company", OverrideReason: "borrows a lamp", HeldBikeRides: true}); err != nil {
		t.Fatal(told(err))
	}
	if changed := explain("mia"); proto.Equal(first, changed) || changed.Group != "easy" {
		t.Errorf("after the pin it is told as before: %v", changed)
	}
	if _, err := w.rides.UnpinRider(w.as("lea"), &pb.UnpinRiderRequest{Parent: ride.Name, Member: club + "/members/mia"}); err != nil {
		t.Fatal(told(err))
	}
	if again := explain("mia"); !proto.Equal(first, again) {
		t.Errorf("without the pin it is told as %v, want %v", again, first)
	}
}

// TestKnownRoute: who has the line of a route is not sent it again, and is let in or refused like anybody else.
func TestKnownRoute(t *testing.T) {
	w, ride := pinned(t)
	line, err := w.rides.GetRoute(w.as("mia"), &pb.GetRouteRequest{Name: ride.Name})
	if err != nil || len(line.LatDeg) == 0 || line.Digest == "" || line.Digest != ride.Route.Digest {
		t.Fatalf("the line has %d points and the digest %q, the ride tells %q: %v", len(line.GetLatDeg()), line.GetDigest(), ride.Route.Digest, err)
	}
	if known, err := w.rides.GetRoute(w.as("mia"), &pb.GetRouteRequest{Name: ride.Name, KnownDigest: line.Digest}); err != nil || proto.Size(known) != 0 {
		t.Errorf("a line that is known is sent again: %d bytes, %v", proto.Size(known), err)
	}
	if other, err := w.rides.GetRoute(w.as("mia"), &pb.GetRouteRequest{Name: ride.Name, KnownDigest: "another"}); err != nil || !proto.Equal(other, line) {
		t.Errorf("who knows another line is sent %d bytes, %v", proto.Size(other), err)
	}
	if _, err := w.rides.GetRoute(t.Context(), &pb.GetRouteRequest{Name: ride.Name, KnownDigest: line.Digest}); err == nil {
		t.Error("who knows the digest is let in without a token")
	}
}

// TestSignupsWithoutStandings: it is the list of who signed up, without how their bikes stand.
func TestSignupsWithoutStandings(t *testing.T) {
	w, ride := pinned(t)
	for _, who := range []string{"lea", "mia", "sec"} {
		whole, err := w.rides.ListSignups(w.as(who), &pb.ListSignupsRequest{Parent: ride.Name})
		if err != nil {
			t.Fatal(told(err))
		}
		less, err := w.rides.ListSignups(w.as(who), &pb.ListSignupsRequest{Parent: ride.Name, WithoutStandings: true})
		if err != nil {
			t.Fatal(told(err))
		}
		for _, signup := range whole.Signups {
			if may := who != "mia" || signup.DisplayName == "Mia"; may != (len(signup.Standings) > 0) {
				t.Errorf("%s is told of %d standings of %s", who, len(signup.Standings), signup.DisplayName)
			}
			signup.Standings = nil
		}
		if len(whole.Signups) != 5 || !proto.Equal(whole, less) {
			t.Errorf("%s is told %v without standings, want %v", who, less, whole)
		}
	}
}

// TestSignupsWithoutFindings: it is the list of who signed up, with how their bikes stand in each group and not why.
func TestSignupsWithoutFindings(t *testing.T) {
	w, ride := pinned(t)
	worst := pb.Standing_CLEAR
	for _, who := range []string{"lea", "mia", "sec"} {
		whole, err := w.rides.ListSignups(w.as(who), &pb.ListSignupsRequest{Parent: ride.Name})
		if err != nil {
			t.Fatal(told(err))
		}
		less, err := w.rides.ListSignups(w.as(who), &pb.ListSignupsRequest{Parent: ride.Name, WithoutFindings: true})
		if err != nil {
			t.Fatal(told(err))
		}
		for _, signup := range whole.Signups {
			for i, one := range signup.Standings {
				worst = max(worst, one.Standing)
				signup.Standings[i] = &pb.Assessment{Group: one.Group, Standing: one.Standing}
			}
		}
		if len(whole.Signups) != 5 || !proto.Equal(whole, less) {
			t.Errorf("%s is told %v without findings, want %v", who, less, whole)
		}
	}
	if worst == pb.Standing_CLEAR {
		t.Error("every bike is clear: nothing is tried")
	}
}

// TestPlanForEachReader: a member is told of late starts what is about the own bike; the next who may know more is told all of it.
func TestPlanForEachReader(t *testing.T) {
	w, ride := pinned(t)
	worse := func(who string) (members []string) {
		plan, err := w.rides.PlanRide(w.as(who), &pb.PlanRideRequest{Name: ride.Name})
		if err != nil {
			t.Fatal(told(err))
		}
		for _, limit := range plan.StartLimits {
			for _, one := range limit.Worse {
				members = append(members, names.Last(one.Member))
			}
		}
		return members
	}
	for _, reader := range []struct{ who, want string }{{"bo", "bo"}, {"lea", "ada ben bo lea mia"}, {"bo", "bo"}, {"sec", "ada ben bo lea mia"}} {
		got := slices.Compact(slices.Sorted(slices.Values(worse(reader.who))))
		if strings.Join(got, " ") != reader.want {
			t.Errorf("%s is told that a late start is worse for %v, want %s", reader.who, got, reader.want)
		}
	}
}

// TestStandingsAtTheStart: what a look-over finds is told at once to whoever leads a group by the roster, and how the bike stands, without
// why, to every leader, who may open the start line.
func TestStandingsAtTheStart(t *testing.T) {
	w, ride := carPark(t)
	w.member("Nia", nil, pb.Role_LEADER)
	w.setClock(onSunday(10, 22))
	if _, err := w.look("bo", ride.Name, "once", []*pb.Found{{What: pb.Found_LIGHT_DEAD, End: pb.End_REAR}}, nil); err != nil {
		t.Fatal(told(err))
	}
	for _, reader := range []struct {
		who          string
		stands, whys bool
	}{{"lea", true, true}, {"ada", true, true}, {"nia", true, false}, {"ben", false, false}} {
		for _, inAWord := range []bool{true, false} {
			listed, err := w.rides.ListSignups(w.as(reader.who), &pb.ListSignupsRequest{Parent: ride.Name, WithoutFindings: inAWord})
			if err != nil {
				t.Fatal(told(err))
			}
			at := slices.IndexFunc(listed.Signups, func(one *pb.Signup) bool { return one.DisplayName == "Bo" })
			stands := listed.Signups[at].Standings
			if held := standingIn(stands, "easy") == pb.Standing_HELD; held != reader.stands {
				t.Errorf("%s is told of a bike found without a rear light: %v", reader.who, stands)
			}
			whys := slices.ContainsFunc(stands, func(one *pb.Assessment) bool { return len(one.Findings) > 0 })
			if whys != (reader.whys && !inAWord) {
				t.Errorf("%s is told why, %v: %v", reader.who, whys, stands)
			}
		}
	}
}
