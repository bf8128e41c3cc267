package server_test

import (
	"bytes"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

// stricter is the shipped policy with guards that hold instead of sending to the back.
func stricter(t testing.TB) []byte {
	t.Helper()
	at := bytes.Index(policyfile.Winter, []byte("- id: guards\n"))
	if at < 0 {
		t.Fatal("the shipped policy has no rule called guards")
	}
	rest := bytes.Replace(policyfile.Winter[at:], []byte("otherwise: back"), []byte("otherwise: hold"), 1)
	return append(bytes.Clone(policyfile.Winter[:at]), rest...)
}

// TestPreview tells the secretary whom a stricter policy would hold, changes nothing, and tells nobody else.
func TestPreview(t *testing.T) {
	w := newWorld(t)
	people(w)
	bare := bike("bare bike", 300)
	bare.Guards = &pb.Guards{
		Front: &pb.Guard{Kind: pb.Guard_NONE, Secure: proto.Bool(true)}, Rear: &pb.Guard{Kind: pb.Guard_NONE, Secure: proto.Bool(true)}}
	name := w.declare("mia", bare)
	ride := w.ride("lea", sunday())
	if _, err := w.join("mia", ride.Name, name, nil); err != nil {
		t.Fatal(told(err))
	}
	got, err := w.policies.PreviewPolicy(w.as("sec"), &pb.PreviewPolicyRequest{Parent: club, File: "strict.yaml", Content: stricter(t)})
	if err != nil {
		t.Fatal(told(err))
	}
	if got.BikesSeen != 5 || got.BikesChanged != 1 || len(got.Bikes) != 2 || got.RidersSeen != 2 || got.RidersChanged != 2 {
		t.Errorf("%v", got)
	}
	for _, change := range append(got.Bikes, got.Riders...) {
		if change.Bike != name || change.From != pb.Standing_BACK || change.To != pb.Standing_HELD || strings.Join(change.Rules, " ") != "guards" {
			t.Errorf("%v", change)
		}
	}
	if same, err := w.policies.PreviewPolicy(w.as("sec"), &pb.PreviewPolicyRequest{
		Parent: club, File: "winter.yaml", Content: policyfile.Winter}); err != nil || same.BikesChanged+same.RidersChanged != 0 {
		t.Errorf("the policy in force would change something: %v %v", same, told(err))
	}
	later, err := w.policies.PreviewPolicy(w.as("sec"), &pb.PreviewPolicyRequest{
		Parent: club, File: "strict.yaml", Content: stricter(t), EffectiveFrom: "2026-12-14"})
	if err != nil || later.RidersSeen != 0 {
		t.Errorf("a policy from the day after touches the ride: %v %v", later, told(err))
	}
	listed, err := w.policies.ListPolicies(w.as("sec"), &pb.ListPoliciesRequest{Parent: club})
	if err != nil || len(listed.Policies) != 1 {
		t.Errorf("a preview was adopted: %v %v", listed, told(err))
	}
}

// TestCompareAndRestore adopts a stricter policy, tells what differs, and goes back.
func TestCompareAndRestore(t *testing.T) {
	w := newWorld(t)
	if _, err := w.policies.AdoptPolicy(w.as("sec"), &pb.AdoptPolicyRequest{Parent: club, File: "strict.yaml", Content: stricter(t)}); err != nil {
		t.Fatal(told(err))
	}
	compared, err := w.policies.ComparePolicies(w.as("sec"), &pb.ComparePoliciesRequest{Name: club + "/policies/1", Other: club + "/policies/2"})
	if err != nil || len(compared.Differences) != 1 {
		t.Fatalf("%v %v", compared, told(err))
	}
	if d := compared.Differences[0]; d.Kind != pb.PolicyDifference_CHANGED || d.Rule != "guards" || d.Path != "otherwise" || d.Before != "back" || d.After != "hold" {
		t.Errorf("%v", d)
	}
	again := &pb.RestorePolicyRequest{Name: club + "/policies/1", Note: "too strict", RequestId: "r1"}
	for range 2 {
		restored, err := w.policies.RestorePolicy(w.as("sec"), again)
		if err != nil || restored.Number != 3 || restored.Note != "policy 1 again: too strict" || restored.Text != string(policyfile.Winter) {
			t.Errorf("%v %v", restored.GetNumber(), told(err))
		}
	}
	_, err = w.policies.AdoptPolicy(w.as("sec"), &pb.AdoptPolicyRequest{Parent: club, File: "winter.yaml", Content: policyfile.Winter})
	if got := told(err); got != "FailedPrecondition | WRONG_STATE | nothing to adopt: this very file is policy 3, which counts from 2026-12-11 on" {
		t.Error(got)
	}
}

// TestLift tells what would let a bike without guards ride anywhere in its group.
func TestLift(t *testing.T) {
	w := newWorld(t)
	people(w)
	bare := bike("bare bike", 300)
	bare.Guards.Rear = &pb.Guard{Kind: pb.Guard_NONE, Secure: proto.Bool(true)}
	name := w.declare("mia", bare)
	ride := w.ride("lea", sunday())
	got, err := w.bikes.LiftBike(w.as("mia"), &pb.LiftBikeRequest{Name: name, Ride: ride.Name})
	if err != nil || len(got.Lifts) != 2 {
		t.Fatalf("%v %v", got, told(err))
	}
	lift := got.Lifts[0]
	found := false
	for _, way := range lift.Ways {
		found = found || way.Reaches <= pb.Standing_ADVISED && len(way.Steps) == 1 && way.Steps[0].Rule == "guards" && strings.Contains(way.Words, "rear guard")
	}
	if lift.Standing != pb.Standing_BACK || !found {
		t.Errorf("%v", lift)
	}
}
