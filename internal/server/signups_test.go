package server_test

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/fieldmaskpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/names"
	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

const winterBike = "/bikes/bike-1"

// joins signs a member up with the winter bike, and gives how that stands or the error.
func (w *world) joins(id, ride string, set *pb.Signup) string {
	w.t.Helper()
	signup, err := w.join(id, ride, club+"/members/"+id+winterBike, set)
	if err != nil {
		return told(err)
	}
	return standsAt(signup)
}

func standsAt(signup *pb.Signup) string {
	if signup.State == pb.Signup_WAITING {
		return fmt.Sprintf("waiting, %d before", signup.WaitingBefore)
	}
	return strings.ToLower(signup.State.String())
}

// listed tells the sign-ups of a ride in their order.
func (w *world) listed(ride string) string {
	w.t.Helper()
	page, err := w.rides.ListSignups(w.as("sec"), &pb.ListSignupsRequest{Parent: ride})
	if err != nil {
		w.t.Fatal(told(err))
	}
	var all []string
	for _, signup := range page.Signups {
		all = append(all, names.Last(signup.Member)+" "+standsAt(signup))
	}
	return strings.Join(all, "; ")
}

func (w *world) withdraws(id, ride string) string {
	_, err := w.rides.WithdrawSignup(w.as(id), &pb.WithdrawSignupRequest{Name: ride + "/signups/" + id})
	return told(err)
}

// places sets the places of a ride.
func (w *world) places(ride string, places int32) string {
	_, err := w.rides.UpdateRide(w.as("lea"), &pb.UpdateRideRequest{
		Ride: &pb.Ride{Name: ride, Places: places}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"places"}}})
	return told(err)
}

// TestWaitingList: who comes first is served first; who withdraws and comes back stands at the end; a change keeps the turn.
func TestWaitingList(t *testing.T) {
	w := newWorld(t)
	people(w)
	w.declare("mia", bike("winter bike", 300))
	ride := w.ride("lea", &pb.Ride{Title: "Four Becks", StartLocal: "2026-12-13T10:30", MeetingPoint: "The weighbridge",
		Groups: sunday().Groups, Conditions: sunday().Conditions, Places: 2}).Name
	step := func(what, got, want string) {
		t.Helper()
		if got != want {
			t.Errorf("%s: got %q, want %q", what, got, want)
		}
	}
	step("lea", w.joins("lea", ride, nil), "in")
	step("ben", w.joins("ben", ride, nil), "in")
	step("ada", w.joins("ada", ride, nil), "waiting, 0 before")
	step("bo", w.joins("bo", ride, nil), "waiting, 1 before")
	step("mia", w.joins("mia", ride, nil), "waiting, 2 before")
	step("bo wishes for a group", w.joins("bo", ride, &pb.Signup{PreferredGroup: "easy"}), "waiting, 1 before")
	step("ada withdraws", w.withdraws("ada", ride), "no error")
	step("ada comes back", w.joins("ada", ride, nil), "waiting, 2 before")
	step("ben withdraws", w.withdraws("ben", ride), "no error")
	step("list", w.listed(ride), "lea in; bo in; mia waiting, 0 before; ada waiting, 1 before")
	step("ben withdraws again", w.withdraws("ben", ride), "no error")
	step("list", w.listed(ride), "lea in; bo in; mia waiting, 0 before; ada waiting, 1 before")
	step("one place more", w.places(ride, 3), "no error")
	step("list", w.listed(ride), "lea in; bo in; mia in; ada waiting, 0 before")
	step("fewer than are taken", w.places(ride, 2),
		"InvalidArgument | FIELD_INVALID | ride.places: 3 have a place already; withdraw the sign-up of whoever stands back first | the request is not as it must be")
	step("no limit", w.places(ride, 0), "no error")
	step("list", w.listed(ride), "lea in; bo in; mia in; ada in")
	issue := w.publish("lea", ride)
	if groupOf(issue, "ada") == "" {
		t.Error("who moved up is not in the roster")
	}
}

// TestSignupRepeated: a request that is sent again signs up once and brings back nobody; what changes nothing writes nothing.
func TestSignupRepeated(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday()).Name
	request := &pb.JoinRideRequest{Parent: ride, RequestId: "tap-1",
		Signup: &pb.Signup{Member: club + "/members/ben", Bike: club + "/members/ben" + winterBike, PreferredGroup: "brisk"}}
	first, err := w.rides.JoinRide(w.as("ben"), request)
	if err != nil {
		t.Fatal(told(err))
	}
	entries := len(w.auditLog())
	w.setClock(friday.Add(time.Hour))
	for range 3 {
		again, err := w.rides.JoinRide(w.as("ben"), request)
		if err != nil || again.Etag != first.Etag || len(again.Standings) != 2 {
			t.Fatalf("repeated: %v, %s", again, told(err))
		}
	}
	if got := w.joins("ben", ride, &pb.Signup{PreferredGroup: "brisk"}); got != "in" || len(w.auditLog()) != entries {
		t.Errorf("the same sign-up under no id: %s, %d entries more", got, len(w.auditLog())-entries)
	}
	if got := w.withdraws("ben", ride); got != "no error" {
		t.Fatal(got)
	}
	if again, err := w.rides.JoinRide(w.as("ben"), request); err != nil || again.State != pb.Signup_WITHDRAWN {
		t.Errorf("a repeated request brought back who had withdrawn: %v, %s", again, told(err))
	}
	request.Signup.PreferredGroup = "easy"
	if _, err := w.rides.JoinRide(w.as("ben"), request); !strings.Contains(told(err), "REQUEST_ID_REUSED") {
		t.Error(told(err))
	}
}

// TestNoneKnown: who knows of no sign-up, or no contacts, takes the place of none; who changes a sign-up that is withdrawn is told.
func TestNoneKnown(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday()).Name
	join := func(group, etag string, none bool) (*pb.Signup, error) {
		return w.rides.JoinRide(w.as("ben"), &pb.JoinRideRequest{Parent: ride, NoneKnown: none,
			Signup: &pb.Signup{Member: club + "/members/ben", Bike: club + "/members/ben" + winterBike, PreferredGroup: group, Etag: etag}})
	}
	first, err := join("brisk", "", true)
	if err != nil {
		t.Fatal(told(err))
	}
	const meanwhile = "Aborted | CHANGED_MEANWHILE | "
	if _, err := join("easy", "", true); !strings.HasPrefix(told(err), meanwhile) {
		t.Errorf("a sign-up was made meanwhile: %s", told(err))
	}
	if kept, err := w.rides.GetSignup(w.as("ben"), &pb.GetSignupRequest{Name: first.Name}); err != nil || kept.PreferredGroup != "brisk" {
		t.Errorf("it is now %v, %s", kept, told(err))
	}
	if changed, err := join("easy", "", false); err != nil || changed.PreferredGroup != "easy" {
		t.Errorf("whatever there is: %v, %s", changed, told(err))
	}
	if got := w.withdraws("ben", ride); got != "no error" {
		t.Fatal(got)
	}
	if _, err := join("brisk", first.Etag, false); !strings.HasPrefix(told(err), meanwhile) {
		t.Errorf("it was withdrawn meanwhile: %s", told(err))
	}
	if again, err := join("brisk", "", true); err != nil || again.State != pb.Signup_IN {
		t.Errorf("none that is not withdrawn: %v, %s", again, told(err))
	}

	contacts := func(phone string, none bool) error {
		_, err := w.personal.SetEmergencyContacts(w.as("ben"), &pb.SetEmergencyContactsRequest{NoneKnown: none, Contacts: &pb.EmergencyContacts{
			Name: club + "/members/ben/contacts", Call: []*pb.EmergencyContact{{ContactName: "Runa Quill", Phone: phone}}}})
		return err
	}
	if err := contacts("07700 900123", true); err != nil {
		t.Error(told(err))
	}
	if err := contacts("07700 900124", true); !strings.HasPrefix(told(err), meanwhile) {
		t.Errorf("contacts were given meanwhile: %s", told(err))
	}
	if err := contacts("07700 900125", false); err != nil {
		t.Errorf("whatever there is: %s", told(err))
	}
}

// TestPhoneGoesWithTheLeader: who takes a ride over is not reached under the other's number.
func TestPhoneGoesWithTheLeader(t *testing.T) {
	w := newWorld(t)
	people(w)
	w.member("Lou", nil, pb.Role_LEADER)
	asked := sunday()
	asked.LeaderPhone = "01632 960 111"
	ride := w.ride("lea", asked)
	for _, step := range []struct {
		by   string
		set  *pb.Ride
		mask []string
		want string
	}{
		{"lea", &pb.Ride{Name: ride.Name, MeetingPoint: "The station"}, []string{"meeting_point"}, "01632 960 111"},
		{"lea", &pb.Ride{Name: ride.Name, Leader: club + "/members/lou"}, []string{"leader"}, ""},
		{"lou", &pb.Ride{Name: ride.Name, Leader: club + "/members/lea", LeaderPhone: "01632 960 222"}, []string{"leader", "leader_phone"}, "01632 960 222"},
	} {
		got, err := w.change(step.by, step.set, step.mask...)
		if err != nil || got.LeaderPhone != step.want {
			t.Errorf("%v: %q, %s", step.mask, got.GetLeaderPhone(), told(err))
		}
	}
}

// TestSignupTimes: before it opens and after it closes only the ride's leader and secretaries sign somebody up; who has
// signed up changes and withdraws until the start.
func TestSignupTimes(t *testing.T) {
	w := newWorld(t)
	people(w)
	w.member("Lou", nil, pb.Role_LEADER)
	asked := sunday()
	opens, closes := friday.Add(time.Hour), friday.Add(24*time.Hour)
	asked.SignupOpensAt, asked.SignupClosesAt = timestamppb.New(opens), timestamppb.New(closes)
	ride := w.ride("lea", asked).Name
	by := func(who, member string) string {
		_, err := w.rides.JoinRide(w.as(who), &pb.JoinRideRequest{Parent: ride,
			Signup: &pb.Signup{Member: club + "/members/" + member, Bike: club + "/members/" + member + winterBike}})
		return told(err)
	}
	early := "FailedPrecondition | SIGNUP_CLOSED | sign-up for the ride opens at 2026-12-11T20:00"
	late := "FailedPrecondition | SIGNUP_CLOSED | sign-up for the ride closed at 2026-12-12T19:00; ask its leader"
	for _, step := range []struct {
		at          time.Time
		who, member string
		want        string
	}{
		{friday, "ben", "ben", early},
		{opens.Add(-time.Second), "ben", "ben", early},
		{opens.Add(-time.Second), "lea", "ada", "no error"},
		{opens.Add(-time.Second), "lou", "bo", "PermissionDenied | NOT_ALLOWED | only for a secretary, or for your own record as member or leader or guest; ask Sec"},
		{opens, "ben", "ben", "no error"},
		{closes.Add(-time.Second), "lea", "lea", "no error"},
		{closes, "bo", "bo", late},
		{closes, "ben", "ben", "no error"}, // a change
		{closes, "sec", "bo", "no error"},
	} {
		w.setClock(step.at)
		if got := by(step.who, step.member); !strings.HasPrefix(got, step.want) {
			t.Errorf("%s signs up %s at %s: %s, want %s", step.who, step.member, step.at, got, step.want)
		}
	}
	if got := w.withdraws("ben", ride); got != "no error" {
		t.Error(got)
	}
	if got := by("ben", "ben"); !strings.HasPrefix(got, late) {
		t.Errorf("who withdrew after the closing came back: %s", got)
	}
	for _, bad := range []struct {
		opens, closes time.Time
		want          string
	}{
		{closes, opens, "ride.signup_opens_at: must be before sign-up closes"},
		{closes, closes, "ride.signup_opens_at: must be before sign-up closes"},
		{opens, friday.Add(72 * time.Hour), "ride.signup_closes_at: must not be after the start"},
	} {
		asked := sunday()
		asked.SignupOpensAt, asked.SignupClosesAt = timestamppb.New(bad.opens), timestamppb.New(bad.closes)
		_, err := w.rides.CreateRide(w.as("lea"), &pb.CreateRideRequest{Parent: club, Ride: asked, RouteGpx: gpx(t)})
		if !strings.Contains(told(err), bad.want) {
			t.Errorf("%s, want %s", told(err), bad.want)
		}
	}
}

// TestPolicyBecomesStricter: a published issue stays as it was; who is held by a policy adopted since is not placed in the
// next one, which says why.
func TestPolicyBecomesStricter(t *testing.T) {
	w := newWorld(t)
	people(w)
	bare := bike("bare bike", 300)
	bare.Guards.Rear = &pb.Guard{Kind: pb.Guard_NONE}
	name := w.declare("mia", bare)
	ride := w.ride("lea", sunday()).Name
	for _, id := range []string{"lea", "ben", "ada", "bo"} {
		w.joins(id, ride, nil)
	}
	if _, err := w.join("mia", ride, name, nil); err != nil {
		t.Fatal(told(err))
	}
	first := w.publish("lea", ride)
	if groupOf(first, "mia") == "" {
		t.Fatal("mia has no place by the first policy")
	}
	guards := regexp.MustCompile(`(?s)(- id: [a-z-]*guards?\n.*?otherwise: )back`)
	stricter := guards.ReplaceAll(policyfile.Winter, []byte("${1}hold"))
	if bytes.Equal(stricter, policyfile.Winter) {
		t.Fatal("the policy is not stricter")
	}
	if _, err := w.policies.AdoptPolicy(w.as("sec"), &pb.AdoptPolicyRequest{Parent: club, File: "winter.yaml", Content: stricter}); err != nil {
		t.Fatal(told(err))
	}
	again, err := w.rides.GetRoster(w.as("lea"), &pb.GetRosterRequest{Name: ride + "/rosters/1"})
	if err != nil || groupOf(again, "mia") == "" || again.Digest != first.Digest {
		t.Errorf("the first issue changed: %v", told(err))
	}
	second := w.publish("lea", ride)
	if groupOf(second, "mia") != "" {
		t.Error("mia rides though the bike is held")
	}
	if got := strings.Join(second.Changes, "\n"); !strings.Contains(got, "Mia") || second.PolicyDigest == first.PolicyDigest {
		t.Errorf("the second issue says %q", got)
	}
}
