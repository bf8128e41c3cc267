package server_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// TestTryFacts: facts that are tried stand where they would when certified, and nothing of them stays.
func TestTryFacts(t *testing.T) {
	w := newWorld(t)
	mia := w.member("Mia", nil).Name
	w.member("Lea", nil, pb.Role_LEADER)
	ride := w.ride("lea", sunday())
	facts := bike("winter bike", 300)
	facts.Guards.Rear.Flap = proto.Bool(false)
	before := len(w.auditLog())
	tried, err := w.bikes.TryFacts(w.as("mia"), &pb.TryFactsRequest{Parent: mia, Facts: facts})
	if err != nil {
		t.Fatal(told(err))
	}
	if listed, err := w.bikes.ListBikes(w.as("mia"), &pb.ListBikesRequest{Parent: mia}); err != nil || len(listed.Bikes) > 0 {
		t.Errorf("it is kept: %v %v", listed, told(err))
	}
	onRide, err := w.bikes.TryFacts(w.as("mia"), &pb.TryFactsRequest{Parent: mia, Facts: facts, Ride: ride.Name})
	if err != nil || len(onRide.Groups) != len(ride.Groups) || onRide.ByDay != nil {
		t.Fatal(onRide, told(err))
	}
	if left := w.auditLog()[before:]; len(left) > 0 {
		t.Errorf("it left %v", left)
	}
	made, err := w.bikes.DeclareBike(w.as("mia"), &pb.DeclareBikeRequest{Parent: mia, Facts: facts})
	if err != nil {
		t.Fatal(told(err))
	}
	same := protocmp.IgnoreFields(&pb.Assessment{}, "bike")
	if diff := cmp.Diff([]*pb.Assessment{made.ByDay, made.AfterDark}, []*pb.Assessment{tried.ByDay, tried.AfterDark}, protocmp.Transform(), same); diff != "" {
		t.Errorf("certified (-) it stands otherwise than tried (+):\n%s", diff)
	}
	held, err := w.bikes.AssessBike(w.as("mia"), &pb.AssessBikeRequest{Name: made.Bike.Name, Ride: ride.Name})
	if err != nil {
		t.Fatal(told(err))
	}
	if diff := cmp.Diff(held.Assessments, onRide.Groups, protocmp.Transform(), same); diff != "" {
		t.Errorf("certified (-) it stands otherwise on the ride than tried (+):\n%s", diff)
	}
	for what, bad := range map[string]*pb.TryFactsRequest{
		"no title":         {Parent: mia, Facts: &pb.BikeFacts{}},
		"no facts":         {Parent: mia},
		"a day to come":    {Parent: mia, Facts: &pb.BikeFacts{Title: "x", Cleaning: &pb.Cleaning{WashedOn: "2031-01-01"}}},
		"no day":           {Parent: mia, Facts: &pb.BikeFacts{Title: "x", Cleaning: &pb.Cleaning{WashedOn: "2026-02-30"}}},
		"a name of a ride": {Parent: mia, Facts: &pb.BikeFacts{Title: "x"}, Ride: club + "/policies/1"},
	} {
		if _, err := w.bikes.TryFacts(w.as("mia"), bad); err == nil || fault.Read(err).Reason != pb.Reason_FIELD_INVALID {
			t.Errorf("%s: %v", what, told(err))
		}
	}
	if _, err := w.bikes.TryFacts(w.as("mia"), &pb.TryFactsRequest{Parent: mia, BikeId: "bike-9", Facts: facts}); err == nil || fault.Read(err).Reason != pb.Reason_NOT_FOUND {
		t.Errorf("an unknown bike: %v", told(err))
	}
}

// TestTryFactsBesideTheCareLog: the log of a bike counts beside facts that are tried for it, as it would beside a declaration.
func TestTryFactsBesideTheCareLog(t *testing.T) {
	w := newWorld(t)
	mia := w.member("Mia", nil).Name
	facts := bike("winter bike", 300)
	name := w.declare("mia", facts)
	if _, err := w.bikes.RecordCare(w.as("mia"), &pb.RecordCareRequest{Parent: name,
		Entry: &pb.CareEntry{Work: pb.CareEntry_CHAIN_MEASURED, WearPct: proto.Float64(0.2)}}); err != nil {
		t.Fatal(told(err))
	}
	measured := func(id string) pb.Standing {
		t.Helper()
		tried, err := w.bikes.TryFacts(w.as("mia"), &pb.TryFactsRequest{Parent: mia, BikeId: id, Facts: facts})
		if err != nil {
			t.Fatal(told(err))
		}
		for _, finding := range tried.ByDay.Findings {
			if finding.Rule == "chain-measured" {
				return finding.Standing
			}
		}
		t.Fatal("the policy has no such rule")
		return 0
	}
	if got := measured("bike-1"); got != pb.Standing_CLEAR {
		t.Errorf("with the log of the bike: %v", got)
	}
	if got := measured(""); got != pb.Standing_ADVISED {
		t.Errorf("as a new bike: %v", got)
	}
}

// TestGetSignup: one sign-up is told as the list tells it, to whom it may be told.
func TestGetSignup(t *testing.T) {
	w := newWorld(t)
	for _, name := range []string{"Mia", "Max"} {
		w.member(name, nil)
	}
	w.member("Lea", nil, pb.Role_LEADER)
	asked := sunday()
	asked.Places = 1
	ride := w.ride("lea", asked)
	for _, id := range []string{"mia", "max"} {
		if _, err := w.join(id, ride.Name, w.declare(id, bike("winter bike", 300)), nil); err != nil {
			t.Fatal(told(err))
		}
	}
	listed, err := w.rides.ListSignups(w.as("max"), &pb.ListSignupsRequest{Parent: ride.Name})
	if err != nil {
		t.Fatal(told(err))
	}
	got, err := w.rides.GetSignup(w.as("max"), &pb.GetSignupRequest{Name: ride.Name + "/signups/max"})
	if err != nil {
		t.Fatal(told(err))
	}
	if diff := cmp.Diff(listed.Signups[1], got, protocmp.Transform()); diff != "" || got.State != pb.Signup_WAITING {
		t.Errorf("listed (-), by itself (+):\n%s", diff)
	}
	if _, err := w.rides.GetSignup(w.as("mia"), &pb.GetSignupRequest{Name: ride.Name + "/signups/max"}); err == nil || fault.Read(err).Reason != pb.Reason_NOT_ALLOWED {
		t.Errorf("to another member: %v", told(err))
	}
	if _, err := w.rides.WithdrawSignup(w.as("max"), &pb.WithdrawSignupRequest{Name: ride.Name + "/signups/max"}); err != nil {
		t.Fatal(told(err))
	}
	if _, err := w.rides.GetSignup(w.as("max"), &pb.GetSignupRequest{Name: ride.Name + "/signups/max"}); err == nil || fault.Read(err).Reason != pb.Reason_NOT_FOUND {
		t.Errorf("one that was withdrawn: %v", told(err))
	}
}
