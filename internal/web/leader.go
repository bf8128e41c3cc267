package web

import (
	"strings"

	"gritward/internal/fault"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

func (s *site) leaderRoutes() {
	const rides, ride = "/clubs/{club}/rides", "/clubs/{club}/rides/{ride}"
	s.show("GET "+rides+"/new", (*visit).newRide)
	s.takeFile(rides+"/new", (*visit).createRide)
	s.show("GET "+ride+"/edit", (*visit).editRide)
	s.takeFile(ride+"/edit", (*visit).changeRide)
	s.show("GET "+ride+"/forecast", (*visit).forecast)
	s.takeFile(ride+"/forecast", (*visit).readForecast)
	s.take(ride+"/forecast/drop", (*visit).dropForecast)
	s.show("GET "+ride+"/plan", (*visit).plan)
	s.show("GET "+ride+"/signups", (*visit).signups)
	s.show("GET "+ride+"/signups/{member}/change", (*visit).entry)
	s.take(ride+"/signups/{member}/change", (*visit).changeEntry)
	s.take(ride+"/signups/{member}/take-out", (*visit).withdrawEntry)
	s.show("GET "+ride+"/guests/new", (*visit).newGuest)
	s.take(ride+"/guests/new", (*visit).addGuest)
	s.show("GET "+ride+"/guests/invite", (*visit).guestInvite)
	s.take(ride+"/guests/invite", (*visit).inviteGuest)
	s.show("GET "+ride+"/place", (*visit).proposed)
	s.take(ride+"/place/publish", (*visit).publish)
	s.take(ride+"/place/reason", (*visit).giveReason)
	s.show("GET "+ride+"/place/members/{member}", (*visit).pinnedRider)
	s.take(ride+"/place/members/{member}", (*visit).pinRider)
	s.show("GET "+ride+"/place/groups/{group}", (*visit).pinnedGroup)
	s.take(ride+"/place/groups/{group}", (*visit).pinGroup)
	s.show("GET "+ride+"/letters", (*visit).letters)
	s.show("GET "+ride+"/call-off", (*visit).callOffForm)
	s.take(ride+"/call-off", (*visit).callOff)
	s.show("GET "+ride+"/contacts", (*visit).rideContactsPage)
	s.take(ride+"/contacts", (*visit).rideContactsRead)
	s.show("GET /clubs/{club}/times", (*visit).recordedTimes)
}

// led is what every page about a ride has at its head.
type led struct {
	Ride *pb.Ride
	Ways []way
}

// ledRide is the ride that the path names, for those who lead it and secretaries. The server holds to that whatever a page
// does; here it keeps a form from being shown that would be refused.
func (v *visit) ledRide() (led, error) {
	ride, err := v.rides.GetRide(v.ctx, &pb.GetRideRequest{Name: v.ride()})
	if err != nil {
		return led{}, err
	}
	if !v.leads(ride) {
		return led{}, fault.New(pb.Reason_NOT_ALLOWED, "this page is for the ride's leader and for secretaries")
	}
	return v.atRide(ride), nil
}

// leads tells whether who is here leads the ride, or may do for it what its leader may.
func (v *visit) leads(ride *pb.Ride) bool {
	return v.has(pb.Role_SECRETARY) || v.has(pb.Role_LEADER) && ride.GetLeader() == v.me()
}

// atRide is the head of a page about a ride: where its other pages are.
func (v *visit) atRide(ride *pb.Ride) led {
	base := "/" + ride.GetName()
	ways := []way{{base, "Ride", v.r.URL.Path == base}}
	add := func(below, label string) {
		path := base + "/" + below
		ways = append(ways, way{path, label, v.r.URL.Path == path || strings.HasPrefix(v.r.URL.Path, path+"/")})
	}
	add("plan", "Plan")
	if v.leads(ride) {
		add("signups", "Sign-ups")
		add("place", "Place")
		add("edit", "Edit")
	}
	if v.leads(ride) && ride.GetRosterNumber() > 0 {
		add("start", "Start line")
	}
	return led{ride, ways}
}

// below is the path of a page below that of the ride.
func (v *visit) below(parts ...string) string {
	return "/" + strings.Join(append([]string{v.ride()}, parts...), "/")
}

// memberNamed is the name of the member whose id the path has.
func (v *visit) memberNamed() string {
	return names.Member(v.r.PathValue("club"), v.r.PathValue("member"))
}

// everybody lists the members of the club, as the club shows them.
func (v *visit) everybody() ([]*pb.Member, error) {
	var all []*pb.Member
	request := &pb.ListMembersRequest{Parent: v.club(), PageSize: 1000}
	for {
		listed, err := v.clubs.ListMembers(v.ctx, request)
		if err != nil {
			return nil, err
		}
		all = append(all, listed.Members...)
		if request.PageToken = listed.NextPageToken; request.PageToken == "" {
			return all, nil
		}
	}
}
