package ledger

import (
	"fmt"

	"gritward/internal/fault"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// Ride reads a ride by id.
func (t *Tx) Ride(id string) (*pb.Ride, error) {
	return load(t, "ride/"+id, names.Ride(t.Club, id), &pb.Ride{})
}

// HasRide tells whether there is a ride of that id.
func (t *Tx) HasRide(id string) (bool, error) {
	data, err := t.tx.Get("ride/" + id)
	return data != nil, err
}

// SaveRide writes a ride under its name, with a new etag.
func (t *Tx) SaveRide(ride *pb.Ride) error {
	ids, err := t.ids(ride.Name, names.RideShape)
	if err != nil {
		return err
	}
	if err := tag(ride, func(r *pb.Ride, etag string) { r.Etag = etag }); err != nil {
		return err
	}
	var before []string
	var was *pb.Ride
	if old, err := t.PeekRide(ids[1]); err == nil {
		before, was = rideKeys(old), old
	} else if !fault.Is(err, pb.Reason_NOT_FOUND) {
		return err
	}
	if err := t.watchRide(was, ride); err != nil {
		return err
	}
	if err := t.reindex(before, rideKeys(ride)); err != nil {
		return err
	}
	return t.save("ride/"+ids[1], ride)
}

// Rides visits rides, latest first: their ids begin with their date. It begins before the id given; at most limit,
// 0: all.
func (t *Tx) Rides(before string, limit int, visit func(*pb.Ride) error) error {
	if before != "" {
		before = "ride/" + before
	}
	return eachDown(t, "ride/", before, func() *pb.Ride { return &pb.Ride{} }, limited(limit, visit))
}

// Route reads the line of a ride's route.
func (t *Tx) Route(ride string) (*pb.RouteLine, error) {
	return load(t, "route/"+ride, names.Ride(t.Club, ride)+"/route", &pb.RouteLine{})
}

// SaveRoute writes the line of a ride's route.
func (t *Tx) SaveRoute(ride string, line *pb.RouteLine) error { return t.save("route/"+ride, line) }

// Signup reads a member's sign-up for a ride.
func (t *Tx) Signup(ride, member string) (*pb.Signup, error) {
	signup, err := t.FindSignup(ride, member)
	if signup == nil && err == nil {
		return &pb.Signup{}, fault.NotFound(names.Signup(t.Club, ride, member))
	}
	return signup, err
}

// FindSignup is Signup, but nil when there is none.
func (t *Tx) FindSignup(ride, member string) (*pb.Signup, error) {
	return find[pb.Signup](t, signupKey(ride, member))
}

// Signups visits the sign-ups of a ride in the order of the members' ids.
func (t *Tx) Signups(ride string, visit func(*pb.Signup) error) error {
	return each(t, "signup/"+ride+"/", "", func() *pb.Signup { return &pb.Signup{} }, visit)
}

// AddRoster writes one issue of a ride's roster. An issue is never written twice: ALREADY_EXISTS.
func (t *Tx) AddRoster(roster *pb.Roster) error {
	ids, err := t.ids(roster.Name, names.RosterShape)
	if err != nil {
		return err
	}
	return t.add(rosterKey(ids[1], roster.Number), roster, roster.Name, names.Roster(t.Club, ids[1], roster.Number))
}

// Roster reads one issue of a ride's roster.
func (t *Tx) Roster(ride string, number int32) (*pb.Roster, error) {
	return load(t, rosterKey(ride, number), names.Roster(t.Club, ride, number), &pb.Roster{})
}

// Rosters visits the issues of a ride's roster, oldest first.
func (t *Tx) Rosters(ride string, visit func(*pb.Roster) error) error {
	return each(t, "roster/"+ride+"/", "", func() *pb.Roster { return &pb.Roster{} }, visit)
}

func rosterKey(ride string, number int32) string { return fmt.Sprintf("roster/%s/%08d", ride, number) }
