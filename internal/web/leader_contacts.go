package web

import (
	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// rideContacts is the page on which emergency contacts of riders are read.
type rideContacts struct {
	led
	// Groups are those of the newest roster, with their riders.
	Groups []*pb.RosterGroup
	// Read is what was read.
	Read *pb.ReadRideContactsResponse
}

// rideContactsPage shows whose contacts can be read. It reads none: each reading is written down.
func (v *visit) rideContactsPage() error {
	view, err := v.rideContacts()
	if err != nil {
		return err
	}
	return v.view("leader-contacts", "Emergency contacts", view)
}

func (v *visit) rideContacts() (*rideContacts, error) {
	ride, err := v.rides.GetRide(v.ctx, &pb.GetRideRequest{Name: v.ride()})
	if err != nil {
		return nil, err
	}
	v.w.Header().Set("Cache-Control", "private, no-store")
	view := &rideContacts{led: v.atRide(ride)}
	issue, err := v.rides.GetRoster(v.ctx, &pb.GetRosterRequest{Name: ride.Name + "/rosters/-"})
	if err == nil {
		view.Groups = issue.GetPlacement().GetGroups()
	}
	if !v.mayCall(ride, view.Groups) {
		return nil, fault.New(pb.Reason_NOT_ALLOWED, "emergency contacts are read by those who lead the ride or a group of it")
	}
	return view, nil
}

// mayCall tells whether who is here leads the ride or a group of it.
func (v *visit) mayCall(ride *pb.Ride, groups []*pb.RosterGroup) bool {
	for _, group := range groups {
		if group.Leader == v.me() {
			return true
		}
	}
	return ride.Leader == v.me()
}

// rideContactsRead reads the contacts of one rider, or of a group, and shows them this once.
func (v *visit) rideContactsRead() error {
	view, err := v.rideContacts()
	if err != nil {
		return err
	}
	form := v.form()
	view.Read, err = v.personal.ReadRideContacts(v.ctx, &pb.ReadRideContactsRequest{Parent: view.Ride.Name, Member: form.Get("member"), Group: form.Get("group")})
	if err != nil {
		v.refuse(err, "leader-contacts", "Emergency contacts", view)
		return nil
	}
	return v.view("leader-contacts", "Emergency contacts", view)
}
