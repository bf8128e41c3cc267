package server_test

import (
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// people fills a club so that two groups can run.
func people(w *world) {
	w.member("Lea", &pb.Member{PaceMinKmh: 25, PaceMaxKmh: 29, MayLead: true}, pb.Role_LEADER)
	w.member("Ben", &pb.Member{PaceMinKmh: 25, PaceMaxKmh: 29, MayMarkBack: true})
	w.member("Ada", &pb.Member{PaceMinKmh: 17, PaceMaxKmh: 21, MayLead: true})
	w.member("Bo", &pb.Member{PaceMinKmh: 17, PaceMaxKmh: 21, MayMarkBack: true})
	w.member("Mia", &pb.Member{PaceMinKmh: 17, PaceMaxKmh: 21})
	for _, id := range []string{"lea", "ben", "ada", "bo"} {
		w.declare(id, bike("winter bike", 300))
	}
}

// TestShortLamp is the heart of it: a rear lamp that lasts an hour is fine in the group that is home by day and holds
// the bike in the group that is out in the dusk, and the roster puts the rider where the bike may ride.
func TestShortLamp(t *testing.T) {
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
	signup, err := w.join("mia", ride.Name, mint, &pb.Signup{PreferredGroup: "easy"})
	if err != nil {
		t.Fatal(told(err))
	}
	standing := map[string]pb.Standing{}
	for _, assessment := range signup.Standings {
		standing[assessment.Group] = assessment.Standing
	}
	if standing["brisk"] > pb.Standing_ADVISED || standing["easy"] != pb.Standing_HELD {
		t.Errorf("standings %v: want to ride in brisk and be held in easy", standing)
	}
	issue := w.publish("lea", ride.Name)
	if group := groupOf(issue, "mia"); group != "brisk" {
		t.Errorf("mia rides in %q, want brisk\n%v", group, issue.Placement)
	}
	if group := groupOf(issue, "ada"); group != "easy" {
		t.Errorf("ada rides in %q, want easy", group)
	}
	for _, assessment := range signup.Standings {
		for _, finding := range assessment.Findings {
			if finding.Standing == pb.Standing_HELD && (finding.Remedy == "" || finding.PolicyLine == 0 || !strings.Contains(finding.Declared, "60 min")) {
				t.Errorf("the finding does not say what to do: %v", finding)
			}
		}
	}
}

func (w *world) publish(leader, ride string) *pb.Roster {
	w.t.Helper()
	issue, err := w.rides.PublishRoster(w.as(leader), &pb.PublishRosterRequest{Parent: ride})
	if err != nil {
		w.t.Fatal(told(err))
	}
	return issue
}

func groupOf(issue *pb.Roster, id string) string {
	for _, group := range issue.Placement.Groups {
		for _, row := range group.Rows {
			for _, rider := range []*pb.Rider{row.Left, row.Right} {
				if strings.HasSuffix(rider.GetMember(), "/"+id) {
					return group.Group
				}
			}
		}
	}
	return ""
}

// TestIssues publishes twice: the first issue stays as it was, the second says what changed.
func TestIssues(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	for _, id := range []string{"lea", "ben", "ada", "bo"} {
		if _, err := w.join(id, ride.Name, club+"/members/"+id+"/bikes/bike-1", nil); err != nil {
			t.Fatal(told(err))
		}
	}
	first := w.publish("lea", ride.Name)
	if first.Number != 1 || len(first.Changes) != 0 {
		t.Errorf("first issue: number %d, changes %q", first.Number, first.Changes)
	}
	if _, err := w.rides.WithdrawSignup(w.as("lea"), &pb.WithdrawSignupRequest{Name: ride.Name + "/signups/bo"}); err != nil {
		t.Fatal(told(err))
	}
	if _, err := w.rides.UpdateRide(w.as("lea"), &pb.UpdateRideRequest{
		Ride:       &pb.Ride{Name: ride.Name, MeetingPoint: "The station"},
		UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"meeting_point"}}}); err != nil {
		t.Fatal(told(err))
	}
	second := w.publish("lea", ride.Name)
	changes := strings.Join(second.Changes, "\n")
	for _, want := range []string{"The meeting point is now: The station.", "Bo withdrew from Easy."} {
		if !strings.Contains(changes, want) {
			t.Errorf("changes %q do not say %q", changes, want)
		}
	}
	again, err := w.rides.GetRoster(w.as("lea"), &pb.GetRosterRequest{Name: ride.Name + "/rosters/1"})
	if err != nil || !proto.Equal(again, first) {
		t.Errorf("the first issue is not as it was published: %v", told(err))
	}
	newest, err := w.rides.GetRoster(w.as("mia"), &pb.GetRosterRequest{Name: ride.Name + "/rosters/-"})
	if err != nil || newest.Number != 2 {
		t.Errorf("the newest issue is %d: %v", newest.GetNumber(), told(err))
	}
	for _, issue := range []*pb.Roster{first, second} {
		if want := pages + "/" + issue.Name; issue.PageUrl != want {
			t.Errorf("the page is at %q, want %q", issue.PageUrl, want)
		}
		if ok, err := roster.Intact(issue); !ok || err != nil {
			t.Errorf("issue %d does not fit its digest: %v", issue.Number, err)
		}
	}
	first.Placement.Placed++
	if ok, _ := roster.Intact(first); ok {
		t.Error("an altered issue passes for intact")
	}
	policy, err := w.policies.GetPolicy(w.as("mia"), &pb.GetPolicyRequest{Name: club + "/policies/-"})
	if err != nil || second.PolicyDigest != policy.Digest || len(policy.Digest) != 64 {
		t.Errorf("the issue names policy %q, in force is %q: %v", second.PolicyDigest, policy.GetDigest(), told(err))
	}
}

// TestRefusals tries what cannot be done, each with all that a client is told.
func TestRefusals(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	create := func(change func(*pb.CreateRideRequest)) error {
		request := &pb.CreateRideRequest{Parent: club, Ride: sunday(), RouteGpx: gpx(t)}
		change(request)
		_, err := w.rides.CreateRide(w.as("lea"), request)
		return err
	}
	tests := []struct {
		name string
		err  func() error
		want string
	}{
		{"a ride in the past", func() error {
			return create(func(r *pb.CreateRideRequest) { r.Ride.StartLocal = "2026-12-06T09:00" })
		}, "FailedPrecondition | RIDE_OVER | ride.start_local: 2026-12-06T09:00 is past; it is 2026-12-11T19:00 now | the ride would start in the past"},
		{"an hour that the clocks skip", func() error {
			return create(func(r *pb.CreateRideRequest) { r.Ride.StartLocal = "2027-03-28T01:30" })
		}, "InvalidArgument | CIVIL_TIME | ride.start_local: 01:30 does not exist in Europe/London: the clocks skip it that day; take a time up to 00:59 or from 02:00 | the clocks change at that time"},
		{"an hour that the clocks repeat", func() error {
			return create(func(r *pb.CreateRideRequest) { r.Ride.StartLocal = "2027-10-31T01:30" })
		}, "InvalidArgument | CIVIL_TIME | ride.start_local: 01:30 happens twice in Europe/London: the clocks go back that day; take a time up to 00:59 or from 02:00 | the clocks change at that time"},
		{"not a GPX file", func() error {
			return create(func(r *pb.CreateRideRequest) { r.RouteGpx = []byte("<html></html>") })
		}, "InvalidArgument | ROUTE_INVALID | route_gpx: "},
		{"no route", func() error {
			return create(func(r *pb.CreateRideRequest) { r.RouteGpx = nil })
		}, "InvalidArgument | FIELD_INVALID | route_gpx: is missing: a ride needs its route, a GPX file | the request is not as it must be"},
		{"a route twice", func() error {
			return create(func(r *pb.CreateRideRequest) { r.RouteOf = ride.Name })
		}, "InvalidArgument | FIELD_INVALID | route_of: a route came as a file; leave this empty, or the file out | the request is not as it must be"},
		{"the route of an unknown ride", func() error {
			return create(func(r *pb.CreateRideRequest) { r.RouteGpx, r.RouteOf = nil, club+"/rides/none" })
		}, "NotFound | NOT_FOUND | there is no clubs/fenwick/rides/none"},
		{"two groups of one id", func() error {
			return create(func(r *pb.CreateRideRequest) { r.Ride.Groups[1].Id = "brisk" })
		}, `InvalidArgument | FIELD_INVALID | ride.groups[1].id: "brisk" is used twice; give each group an id of its own | the request is not as it must be`},
		{"a pace of 0", func() error {
			return create(func(r *pb.CreateRideRequest) { r.Ride.Groups[0].PaceKmh = 0 })
		}, "InvalidArgument | FIELD_INVALID | ride.groups[0].pace_kmh: "},
		{"a stop beyond the end", func() error {
			return create(func(r *pb.CreateRideRequest) { r.Ride.Stops[0].AtDistanceM = 90000 })
		}, "InvalidArgument | FIELD_INVALID | ride.stops[0].at_distance_m: 90.0 km is beyond the end of the route, which is 77.9 km long | the request is not as it must be"},
		{"a leader of a group who is not qualified", func() error {
			return create(func(r *pb.CreateRideRequest) { r.Ride.Groups[0].Leader = club + "/members/ben" })
		}, "InvalidArgument | FIELD_INVALID | ride.groups[0].leader: Ben is not qualified to lead a group | the request is not as it must be"},
		{"an unknown bike", func() error {
			_, err := w.join("ben", ride.Name, club+"/members/ben/bikes/unicycle", nil)
			return err
		}, "NotFound | NOT_FOUND | there is no clubs/fenwick/members/ben/bikes/unicycle"},
		{"somebody else's bike", func() error {
			_, err := w.join("ben", ride.Name, club+"/members/lea/bikes/bike-1", nil)
			return err
		}, "InvalidArgument | FIELD_INVALID | signup.bike: is a bike of lea; a member rides a bike of their own | the request is not as it must be"},
		{"another club's bike", func() error {
			_, err := w.join("ben", ride.Name, "clubs/elsewhere/members/ben/bikes/bike-1", nil)
			return err
		}, `InvalidArgument | FIELD_INVALID | signup.bike: "clubs/elsewhere/members/ben/bikes/bike-1" is another club's; yours is clubs/fenwick | the request is not as it must be`},
		{"a group that the ride does not have", func() error {
			_, err := w.join("ben", ride.Name, club+"/members/ben/bikes/bike-1", &pb.Signup{PreferredGroup: "flying"})
			return err
		}, `InvalidArgument | FIELD_INVALID | signup.preferred_group: there is no group "flying"; there is brisk, easy | the request is not as it must be`},
		{"placing nobody", func() error {
			_, err := w.rides.PlaceRide(w.as("lea"), &pb.PlaceRideRequest{Name: ride.Name})
			return err
		}, "FailedPrecondition | WRONG_STATE | nobody has signed up for the ride yet; sign somebody up first"},
		{"a field that cannot be changed", func() error {
			_, err := w.rides.UpdateRide(w.as("lea"), &pb.UpdateRideRequest{
				Ride: &pb.Ride{Name: ride.Name}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"state"}}})
			return err
		}, `InvalidArgument | FIELD_INVALID | update_mask: "state" cannot be changed here; what can: title, leader, start_local, meeting_point, groups, stops, hazards, ways_out, conditions, places, signup_opens_at, signup_closes_at, reason, single_file, leader_phone, recorded_times | the request is not as it must be`},
		{"a policy with an error", func() error {
			_, err := w.policies.AdoptPolicy(w.as("sec"), &pb.AdoptPolicyRequest{Parent: club, File: "p.yaml", Content: []byte("title: x\nsize: 3\n")})
			return err
		}, "InvalidArgument | POLICY_INVALID | p.yaml:"},
		{"taking the last secretary's role", func() error {
			_, err := w.clubs.UpdateMember(w.as("sec"), &pb.UpdateMemberRequest{
				Member:     &pb.Member{Name: club + "/members/sec", Roles: []pb.Role{pb.Role_MEMBER}},
				UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"roles"}}})
			return err
		}, "FailedPrecondition | LAST_SECRETARY | Sec is the club's last secretary who can act; make another member secretary first"},
		{"making oneself a leader", func() error {
			_, err := w.clubs.UpdateMember(w.as("mia"), &pb.UpdateMemberRequest{
				Member:     &pb.Member{Name: club + "/members/mia", MayLead: true},
				UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"may_lead"}}})
			return err
		}, `InvalidArgument | FIELD_INVALID | update_mask: "may_lead" cannot be changed here; what can: display_name, pace_min_kmh, pace_max_kmh, email, name_public | the request is not as it must be`},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if got := told(test.err()); !strings.HasPrefix(got, test.want) || !strings.HasSuffix(test.want, ": ") && !strings.HasSuffix(test.want, ":") && got != test.want {
				t.Errorf("got  %s\nwant %s", got, test.want)
			}
		})
	}
}

// TestTwoChange has two clients change one ride: the second is told.
func TestTwoChange(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	change := func(by, title string) error {
		_, err := w.rides.UpdateRide(w.as(by), &pb.UpdateRideRequest{
			Ride:       &pb.Ride{Name: ride.Name, Etag: ride.Etag, Title: title},
			UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"title"}}})
		return err
	}
	if err := change("lea", "Five Becks"); err != nil {
		t.Fatal(told(err))
	}
	want := "Aborted | CHANGED_MEANWHILE | " + ride.Name + " was changed by someone else since it was read; read it again and repeat the change"
	if got := told(change("sec", "Six Becks")); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	now, err := w.rides.GetRide(w.as("mia"), &pb.GetRideRequest{Name: ride.Name})
	if err != nil || now.Title != "Five Becks" {
		t.Errorf("the ride is called %q: %v", now.GetTitle(), told(err))
	}
}

// TestSentTwice repeats requests with one id: once is done.
func TestSentTwice(t *testing.T) {
	w := newWorld(t)
	people(w)
	request := &pb.CreateRideRequest{Parent: club, Ride: sunday(), RouteGpx: gpx(t), RequestId: "r1"}
	first, err := w.rides.CreateRide(w.as("lea"), request)
	if err != nil {
		t.Fatal(told(err))
	}
	second, err := w.rides.CreateRide(w.as("lea"), request)
	if err != nil || second.Name != first.Name {
		t.Errorf("a repeated request made %q beside %q: %v", second.GetName(), first.Name, told(err))
	}
	request.Ride.Title = "Another"
	if _, err := w.rides.CreateRide(w.as("lea"), request); status.Code(err) != codes.AlreadyExists {
		t.Errorf("one id served two requests: %v", told(err))
	}
	listed, err := w.rides.ListRides(w.as("lea"), &pb.ListRidesRequest{Parent: club})
	if err != nil || len(listed.Rides) != 1 {
		t.Errorf("%d rides: %v", len(listed.GetRides()), told(err))
	}
}

// TestWaiting fills the places of a ride: who comes later waits, and moves up when someone withdraws.
func TestWaiting(t *testing.T) {
	w := newWorld(t)
	people(w)
	w.declare("mia", bike("winter bike", 300))
	asked := sunday()
	asked.Places = 3
	ride := w.ride("lea", asked)
	want := map[string]pb.Signup_State{
		"lea": pb.Signup_IN, "ben": pb.Signup_IN, "ada": pb.Signup_IN, "bo": pb.Signup_WAITING, "mia": pb.Signup_WAITING}
	for i, id := range []string{"lea", "ben", "ada", "bo", "mia"} {
		w.setClock(friday.Add(time.Duration(i) * time.Minute))
		signup, err := w.join(id, ride.Name, club+"/members/"+id+"/bikes/bike-1", nil)
		if err != nil || signup.State != want[id] {
			t.Errorf("%s: %v %v", id, signup.GetState(), told(err))
		}
	}
	if _, err := w.rides.WithdrawSignup(w.as("ada"), &pb.WithdrawSignupRequest{Name: ride.Name + "/signups/ada"}); err != nil {
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
	if s := strings.Join(got, ", "); s != "Lea IN, Ben IN, Bo IN, Mia WAITING" {
		t.Errorf("after a withdrawal: %s", s)
	}
}

// TestFindingsArePrivate shows a member how the own bike stands and why, and of others' bikes neither.
func TestFindingsArePrivate(t *testing.T) {
	w := newWorld(t)
	people(w)
	w.declare("mia", bike("winter bike", 300))
	ride := w.ride("lea", sunday())
	for _, id := range []string{"ben", "mia"} {
		if _, err := w.join(id, ride.Name, club+"/members/"+id+"/bikes/bike-1", nil); err != nil {
			t.Fatal(told(err))
		}
	}
	seen := func(as string) map[string]bool {
		listed, err := w.rides.ListSignups(w.as(as), &pb.ListSignupsRequest{Parent: ride.Name})
		if err != nil {
			t.Fatal(told(err))
		}
		findings := map[string]bool{}
		for _, signup := range listed.Signups {
			findings[signup.DisplayName] = len(signup.Standings) > 0 && len(signup.Standings[0].Findings) > 0
			if told := len(signup.Standings) > 0; told != findings[signup.DisplayName] {
				t.Errorf("%s sees of %s: %v", as, signup.DisplayName, signup.Standings)
			}
		}
		return findings
	}
	if got := seen("mia"); !got["Mia"] || got["Ben"] {
		t.Errorf("mia sees findings of %v, want only her own", got)
	}
	if got := seen("lea"); !got["Mia"] || !got["Ben"] {
		t.Errorf("the ride's leader sees findings of %v, want all", got)
	}
}

// TestCallOff publishes against the policy's limits only with a written reason, which stands in the brief.
func TestCallOff(t *testing.T) {
	w := newWorld(t)
	people(w)
	asked := sunday()
	asked.Conditions.Start = &pb.Weather{TemperatureC: proto.Float64(-9), WindKmh: proto.Float64(30), Wet: proto.Bool(false)}
	ride := w.ride("lea", asked)
	for _, id := range []string{"lea", "ben"} {
		if _, err := w.join(id, ride.Name, club+"/members/"+id+"/bikes/bike-1", nil); err != nil {
			t.Fatal(told(err))
		}
	}
	_, err := w.rides.PublishRoster(w.as("lea"), &pb.PublishRosterRequest{Parent: ride.Name})
	if got := told(err); !strings.HasPrefix(got, "FailedPrecondition | CALL_OFF | call_off: ") {
		t.Errorf("published in the cold: %s", got)
	}
	reason := "Short loop in the forest, out of the wind."
	if _, err := w.rides.UpdateRide(w.as("lea"), &pb.UpdateRideRequest{
		Ride: &pb.Ride{Name: ride.Name, Reason: reason}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"reason"}}}); err != nil {
		t.Fatal(told(err))
	}
	issue := w.publish("lea", ride.Name)
	found := false
	for _, section := range issue.Brief.Sections {
		found = found || strings.Contains(strings.Join(section.Lines, "\n"), reason)
	}
	if !found {
		t.Error("the leader's reason does not stand in the brief")
	}
}
