package server_test

import (
	"flag"
	"fmt"
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/types/known/fieldmaskpb"
	"pgregory.net/rapid"

	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// plainClub is what the service must look like from outside, kept in plain Go and written without looking at it: members,
// their bikes, rides with those who are signed up for them, issues.
type plainClub struct {
	members []*plainMember
	rides   []*plainRide
}

type plainMember struct {
	id        string
	suspended bool
	pace      float64
	// bikes has for each bike how often it was declared; retired bikes count below 0.
	bikes []int
}

type plainRide struct {
	name string
	line
	calledOff bool
	issues    int
}

func (c *plainClub) String() string {
	var said []string
	for _, one := range c.members {
		said = append(said, fmt.Sprintf("%s suspended=%t pace=%g bikes=%v", one.id, one.suspended, one.pace, one.bikes))
	}
	for _, ride := range c.rides {
		said = append(said, fmt.Sprintf("%s off=%t issues=%d: %s", names.Last(ride.name), ride.calledOff, ride.issues, ride.list()))
	}
	slices.Sort(said)
	return strings.Join(said, "\n")
}

// asAnswered reads the same from the service, as a secretary sees it.
func (w *world) asAnswered(t *rapid.T) string {
	var said []string
	listed, err := w.clubs.ListMembers(w.as("sec"), &pb.ListMembersRequest{Parent: club, PageSize: 1000})
	if err != nil {
		t.Fatal(told(err))
	}
	for _, member := range listed.Members {
		bikes, err := w.bikes.ListBikes(w.as("sec"), &pb.ListBikesRequest{Parent: member.Name})
		if err != nil {
			t.Fatal(told(err))
		}
		var revisions []int
		for _, bike := range bikes.Bikes {
			times := int(bike.Declaration.Revision)
			if bike.RetiredAt != nil {
				times = -times
			}
			revisions = append(revisions, times)
		}
		said = append(said, fmt.Sprintf("%s suspended=%t pace=%g bikes=%v", names.Last(member.Name), member.SuspendedAt != nil, member.PaceMinKmh, revisions))
	}
	rides, err := w.rides.ListRides(w.as("sec"), &pb.ListRidesRequest{Parent: club})
	if err != nil {
		t.Fatal(told(err))
	}
	for _, ride := range rides.Rides {
		issues, err := w.rides.ListRosters(w.as("sec"), &pb.ListRostersRequest{Parent: ride.Name})
		if err != nil {
			t.Fatal(told(err))
		}
		said = append(said, fmt.Sprintf("%s off=%t issues=%d: %s", names.Last(ride.Name), ride.State == pb.Ride_CALLED_OFF, len(issues.Rosters), w.listed(ride.Name)))
	}
	slices.Sort(said)
	return strings.Join(said, "\n")
}

// stories is how many clubs are played through, unless -rapid.checks says otherwise: each has a server and a store of its own.
const stories = "12"

// few has rapid check no more than some stories, for the time of the test.
func few(t *testing.T) {
	t.Helper()
	checks := flag.Lookup("rapid.checks")
	if was := checks.Value.String(); was == checks.DefValue {
		if err := flag.Set("rapid.checks", stories); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = flag.Set("rapid.checks", was) })
	}
}

// story is a service and what it must look like.
type story struct {
	*world
	club plainClub
	// published counts the issues.
	published int
}

// someone draws a member that fits; the step is passed over when there is none.
func (s *story) someone(t *rapid.T, fits func(*plainMember) bool) *plainMember {
	var all []*plainMember
	for _, one := range s.club.members {
		if fits(one) {
			all = append(all, one)
		}
	}
	if len(all) == 0 {
		t.Skip("nobody")
	}
	return rapid.SampledFrom(all).Draw(t, "member")
}

// rideThat draws a ride that fits.
func (s *story) rideThat(t *rapid.T, fits func(*plainRide) bool) *plainRide {
	var all []*plainRide
	for _, one := range s.club.rides {
		if fits(one) {
			all = append(all, one)
		}
	}
	if len(all) == 0 {
		t.Skip("no ride")
	}
	return rapid.SampledFrom(all).Draw(t, "ride")
}

func open(ride *plainRide) bool { return !ride.calledOff }

// here tells of members who are let in and are neither the secretary nor the leader, whom the story needs.
func here(one *plainMember) bool { return !one.suspended && one.id != "sec" && one.id != "lea" }

// leaves takes a rider out of a ride.
func (r *plainRide) leaves(id string) {
	if at := r.find(id); at >= 0 {
		r.people = slices.Delete(r.people, at, at+1)
		r.moveUp()
	}
}

// must fails unless a call was answered as wanted: "" for no error, else a part of it.
func must(t *rapid.T, what, want string, err error) {
	t.Helper()
	if got := told(err); want == "" && err != nil || want != "" && !strings.Contains(got, want) {
		t.Fatalf("%s: got %s, want %q", what, got, want)
	}
}

// TestLikeThePlainClub does what people do with a club in any order, and holds all that a secretary sees after each step
// against a plain model. Skip within a step has rapid draw another one in its place; no test is passed over.
func TestLikeThePlainClub(t *testing.T) {
	few(t)
	published := 0
	rapid.Check(t, func(r *rapid.T) {
		s := &story{world: newWorld(t)}
		s.member("Lea", &pb.Member{PaceMinKmh: 17, MayLead: true}, pb.Role_LEADER)
		s.member("Ben", &pb.Member{PaceMinKmh: 17, MayMarkBack: true})
		s.club.members = []*plainMember{{id: "sec"}, {id: "lea", pace: 17, bikes: []int{1}}, {id: "ben", pace: 17, bikes: []int{1}}}
		for _, id := range []string{"lea", "ben"} {
			s.declare(id, bike("winter bike", 300))
		}
		first := &plainRide{name: s.ride("lea", sunday()).Name}
		s.club.rides = append(s.club.rides, first)
		for _, id := range []string{"lea", "ben"} { // so that a group can run
			if _, err := s.join(id, first.name, club+"/members/"+id+winterBike, nil); err != nil {
				r.Fatal(told(err))
			}
			first.people = append(first.people, person{id, true})
		}
		if rapid.Bool().Draw(r, "the first ride is published at once") { // what is drawn seldom comes to it
			s.publishRide(r, first)
		}
		r.Repeat(map[string]func(*rapid.T){
			"invite":    s.inviteSomebody,
			"suspend":   s.suspend,
			"reinstate": s.reinstate,
			"pace":      s.setPace,
			"declare":   s.declareNew,
			"again":     s.declareAgain,
			"retire":    s.retire,
			"ride":      s.announce,
			"join":      s.joinRide,
			"withdraw":  s.withdraw,
			"places":    s.changePlaces,
			"call off":  s.callOff,
			"publish":   s.publish,
			"": func(r *rapid.T) {
				if got, want := s.asAnswered(r), s.club.String(); got != want {
					r.Fatalf("the service shows\n%s\nwhere the plain club has\n%s", got, want)
				}
			},
		})
		s.auditHolds(r)
		published += s.published
	})
	if published == 0 && !testing.Short() { // two stories, as a short run draws, may well come to none
		t.Error("nothing was ever published")
	}
}

func (s *story) inviteSomebody(r *rapid.T) {
	if len(s.club.members) > 7 {
		r.Skip("enough people")
	}
	name := fmt.Sprintf("Rider%d", len(s.club.members))
	s.member(name, nil)
	s.club.members = append(s.club.members, &plainMember{id: strings.ToLower(name)})
}

func (s *story) suspend(r *rapid.T) {
	one := s.someone(r, here)
	_, err := s.clubs.SuspendMember(s.as("sec"), &pb.SuspendMemberRequest{Name: club + "/members/" + one.id})
	must(r, "suspend", "", err)
	one.suspended = true
	for _, ride := range s.club.rides {
		if open(ride) {
			ride.leaves(one.id)
		}
	}
	_, err = s.clubs.WhoAmI(s.as(one.id), &pb.WhoAmIRequest{})
	must(r, "who is suspended", "NOT_ALLOWED", err)
}

func (s *story) reinstate(r *rapid.T) {
	one := s.someone(r, func(one *plainMember) bool { return one.suspended })
	_, err := s.clubs.ReinstateMember(s.as("sec"), &pb.ReinstateMemberRequest{Name: club + "/members/" + one.id})
	must(r, "reinstate", "", err)
	one.suspended = false
}

func (s *story) setPace(r *rapid.T) {
	one, pace := s.someone(r, here), float64(rapid.IntRange(15, 35).Draw(r, "pace"))
	must(r, "pace", "", s.changePace(one.id, pace))
	one.pace = pace
}

func (s *story) declareNew(r *rapid.T) {
	one := s.someone(r, func(one *plainMember) bool { return here(one) && len(one.bikes) < 3 })
	s.declare(one.id, bike(fmt.Sprintf("bike %d", len(one.bikes)+1), 300))
	one.bikes = append(one.bikes, 1)
}

func (s *story) declareAgain(r *rapid.T) {
	one := s.someone(r, func(one *plainMember) bool { return here(one) && len(one.bikes) > 0 && one.bikes[0] > 0 })
	_, err := s.bikes.DeclareBike(s.as(one.id), &pb.DeclareBikeRequest{Parent: club + "/members/" + one.id, BikeId: "bike-1", Facts: bike("bike 1", 300)})
	must(r, "declare again", "", err)
	one.bikes[0]++
}

// retire retires a bike that nobody is signed up with, and tries to sign up with it.
func (s *story) retire(r *rapid.T) {
	one := s.someone(r, func(one *plainMember) bool {
		return here(one) && len(one.bikes) > 0 && one.bikes[0] > 0 && !slices.ContainsFunc(s.club.rides, func(ride *plainRide) bool { return ride.find(one.id) >= 0 })
	})
	_, err := s.bikes.RetireBike(s.as(one.id), &pb.RetireBikeRequest{Name: club + "/members/" + one.id + winterBike})
	must(r, "retire", "", err)
	one.bikes[0] = -one.bikes[0]
}

func (s *story) announce(r *rapid.T) {
	if len(s.club.rides) > 2 {
		r.Skip("enough rides")
	}
	asked := sunday()
	asked.Places = int32(rapid.IntRange(0, 3).Draw(r, "places"))
	made := s.ride("lea", asked)
	s.club.rides = append(s.club.rides, &plainRide{name: made.Name, line: line{places: int(asked.Places)}})
}

func (s *story) joinRide(r *rapid.T) {
	one := s.someone(r, func(one *plainMember) bool { return !one.suspended && len(one.bikes) > 0 })
	ride := s.rideThat(r, func(*plainRide) bool { return true })
	_, err := s.join(one.id, ride.name, club+"/members/"+one.id+winterBike, nil)
	switch {
	case ride.calledOff:
		must(r, "join a ride that is called off", "FailedPrecondition", err)
	case one.bikes[0] < 0:
		must(r, "join with a retired bike", "is retired", err)
	default:
		must(r, "join", "", err)
		if ride.find(one.id) < 0 {
			ride.people = append(ride.people, person{id: one.id})
			ride.moveUp()
		}
	}
}

func (s *story) withdraw(r *rapid.T) {
	ride := s.rideThat(r, func(ride *plainRide) bool { return open(ride) && len(ride.people) > 0 })
	one := rapid.SampledFrom(ride.people).Draw(r, "rider")
	if got := s.withdraws(one.id, ride.name); got != "no error" {
		r.Fatalf("withdraw: %s", got)
	}
	ride.leaves(one.id)
}

func (s *story) changePlaces(r *rapid.T) {
	ride := s.rideThat(r, open)
	places := rapid.IntRange(0, 4).Draw(r, "places")
	got := s.places(ride.name, int32(places))
	if places > 0 && places < ride.taken() {
		if !strings.Contains(got, "have a place already") {
			r.Fatalf("%d places where %d are taken: %s", places, ride.taken(), got)
		}
		return
	}
	if got != "no error" {
		r.Fatalf("places: %s", got)
	}
	ride.line.places = places
	ride.moveUp()
}

func (s *story) callOff(r *rapid.T) {
	ride := s.rideThat(r, open)
	if rapid.IntRange(0, 3).Draw(r, "weather") < 3 {
		r.Skip("fair weather")
	}
	_, err := s.rides.CallOffRide(s.as("lea"), &pb.CallOffRideRequest{Name: ride.name, Reason: "ice"})
	must(r, "call off", "", err)
	ride.calledOff = true
	if ride.issues > 0 {
		ride.issues++ // the next issue says so
	}
}

// publish publishes who rides, and tries to publish the same again.
func (s *story) publish(r *rapid.T) { s.publishRide(r, s.rideThat(r, open)) }

func (s *story) publishRide(r *rapid.T, ride *plainRide) {
	issue, err := s.rides.PublishRoster(s.as("lea"), &pb.PublishRosterRequest{Parent: ride.name})
	if err != nil { // nobody can be placed, or nothing changed
		must(r, "publish", "FailedPrecondition", err)
		return
	}
	ride.issues++
	if int(issue.Number) != ride.issues {
		r.Fatalf("issue %d after %d", issue.Number, ride.issues-1)
	}
	var on []string
	for _, one := range ride.people {
		on = append(on, one.id)
	}
	slices.Sort(on)
	if got := ridersOf(issue.Placement); got != strings.Join(on, " ") {
		r.Fatalf("the issue has %s where %s are signed up", got, on)
	}
	_, err = s.rides.PublishRoster(s.as("lea"), &pb.PublishRosterRequest{Parent: ride.name})
	must(r, "publish the same again", "nothing has changed since", err)
	s.published++
}

// changePace sets the slowest pace of a member, as the member.
func (s *story) changePace(id string, pace float64) error {
	_, err := s.clubs.UpdateMember(s.as(id), &pb.UpdateMemberRequest{Member: &pb.Member{Name: club + "/members/" + id, PaceMinKmh: pace},
		UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"pace_min_kmh"}}})
	return err
}

// auditHolds verifies the chain of the audit log.
func (s *story) auditHolds(r *rapid.T) {
	if err := s.ledger.View(s.ctx, "fenwick", func(tx *ledger.Tx) error { _, err := tx.VerifyAudit(nil); return err }); err != nil {
		r.Fatal(err)
	}
}
