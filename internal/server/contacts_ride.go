package server

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/policy"
	pb "gritward/proto/gritward/v1"
)

// ReadRideContacts implements PersonalService.
func (s *personalService) ReadRideContacts(ctx context.Context, request *pb.ReadRideContactsRequest) (*pb.ReadRideContactsResponse, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.RideShape)
	if err != nil {
		return nil, err
	}
	if (request.Member == "") == (request.Group == "") {
		return nil, fault.Invalid("member", "name a rider, or a group of the ride: one of the two")
	}
	response := &pb.ReadRideContactsResponse{}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		response.Riders = nil
		ride, err := tx.Ride(ids[1])
		if err != nil {
			return err
		}
		until, err := s.contactsOpen(tx, ride)
		if err != nil {
			return err
		}
		response.UntilAt = timestamppb.New(until)
		riders, err := s.ridersAsked(tx, ride, request)
		if err != nil {
			return err
		}
		for _, rider := range riders {
			read, err := s.readFor(tx, who, ride, rider)
			if err != nil {
				return err
			}
			if request.Member != "" && read.Withheld != "" {
				return fault.New(pb.Reason_CONTACTS_SHUT, "%s %s", read.DisplayName, read.Withheld)
			}
			response.Riders = append(response.Riders, read)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	slices.SortFunc(response.Riders, func(a, b *pb.RiderContacts) int {
		return cmp.Or(cmp.Compare(a.DisplayName, b.DisplayName), cmp.Compare(a.Member, b.Member))
	})
	return response, nil
}

// ridersAsked are the riders that a reading asks about, as the roll call stands.
func (s *personalService) ridersAsked(tx *ledger.Tx, ride *pb.Ride, request *pb.ReadRideContactsRequest) ([]*pb.RiderRoll, error) {
	call, err := s.rollCall(tx, ride)
	if err != nil {
		return nil, err
	}
	riders := slices.DeleteFunc(call.Riders, func(one *pb.RiderRoll) bool { return !one.Placed })
	if request.Group != "" {
		if !slices.ContainsFunc(ride.Groups, func(group *pb.Group) bool { return group.Id == request.Group }) {
			return nil, fault.Invalid("group", "the ride has no group %q", request.Group)
		}
		riders = slices.DeleteFunc(riders, func(one *pb.RiderRoll) bool { return one.Group != request.Group })
		if len(riders) == 0 {
			return nil, fault.Invalid("group", "nobody rides in %q by the newest roster and the roll call; ask about one rider", request.Group)
		}
		return riders, nil
	}
	member, err := memberAt(tx, "member", request.Member)
	if err != nil {
		return nil, err
	}
	riders = slices.DeleteFunc(riders, func(one *pb.RiderRoll) bool { return one.Member != member.Name })
	if len(riders) == 0 {
		return nil, fault.Invalid("member", "%s has no place on this ride", member.DisplayName)
	}
	return riders, nil
}

// readFor opens the contacts of one rider for a leader of the ride, and writes the reading down where there was something
// to read.
func (s *personalService) readFor(tx *ledger.Tx, who *caller, ride *pb.Ride, rider *pb.RiderRoll) (*pb.RiderContacts, error) {
	id := names.Last(rider.Member)
	member, err := tx.Member(id)
	if err != nil {
		return nil, err
	}
	read := &pb.RiderContacts{Member: member.Name, DisplayName: member.DisplayName}
	switch rider.State {
	case pb.RiderRoll_STATE_UNSPECIFIED, pb.RiderRoll_NOT_SEEN:
		read.Withheld = "has not signed on: emergency contacts can be read from the rider's sign-on"
		return read, nil
	case pb.RiderRoll_DID_NOT_COME:
		read.Withheld = "did not come: emergency contacts can be read of riders who have signed on"
		return read, nil
	}
	contacts, err := tx.Contacts(s.keys, id)
	if err != nil || contacts == nil {
		return read, err
	}
	read.Contacts, contacts.Etag = contacts, ""
	if member.Name == who.member.Name {
		return read, nil
	}
	if err := tx.AddReading(id, &pb.ContactReading{Reader: who.member.Name, Ride: ride.Name}); err != nil {
		return nil, err
	}
	return read, tx.Append(audit(who, "PersonalService/ReadRideContacts", contacts.Name,
		"read a rider's emergency contacts for the ride "+names.Last(ride.Name)))
}

// signOnLead is how long before the start of a ride its riders may sign on so that contacts can be read. Ours: without it
// a sign-on marked weeks ahead would open them.
const signOnLead = 12 * time.Hour

// contactsOpen tells until when the contacts of a ride's riders can be read, and refuses when that is not now.
func (s *personalService) contactsOpen(tx *ledger.Tx, ride *pb.Ride) (until time.Time, err error) {
	_, zone, err := s.zone(tx)
	if err != nil {
		return until, err
	}
	hours, err := s.contactsFor(tx, ride, zone)
	if err != nil {
		return until, err
	}
	home, err := s.plannedHome(tx, ride)
	if err != nil {
		return until, err
	}
	ends := endOfNextDay(home.In(zone))
	why := "was not closed, and counts as closed at the end of the day after its planned home"
	if ride.ClosedAt != nil && ride.ClosedAt.AsTime().Before(ends) { // closing it late opens nothing again
		ends, why = ride.ClosedAt.AsTime(), "is closed"
	}
	until = ends.Add(hours)
	const form = "Mon 2 Jan 2006 15:04"
	if from := ride.StartAt.AsTime().Add(-signOnLead); tx.Now.Before(from) {
		return until, fault.New(pb.Reason_CONTACTS_SHUT, "emergency contacts can be read of riders who have signed on, "+
			"and at the earliest %.0f hours before the start: from %s", signOnLead.Hours(), from.In(zone).Format(form))
	}
	if !tx.Now.Before(until) {
		return until, fault.New(pb.Reason_CONTACTS_SHUT, "the ride %s; by the policy of its day emergency contacts could be read "+
			"until %s after that: until %s", why, inHours(hours), until.In(zone).Format(form))
	}
	return until, nil
}

func inHours(span time.Duration) string { return fmt.Sprintf("%g hours", span.Hours()) }

// endOfNextDay is the end of the day after that of an instant, in its zone.
func endOfNextDay(at time.Time) time.Time {
	return time.Date(at.Year(), at.Month(), at.Day()+2, 0, 0, 0, 0, at.Location())
}

// contactsFor is how long after a ride is closed its riders' contacts can be read, by the policy of its day.
func (s *personalService) contactsFor(tx *ledger.Tx, ride *pb.Ride, zone *time.Location) (time.Duration, error) {
	used, _, err := s.policyOn(tx, ride.StartAt.AsTime(), zone)
	if fault.Is(err, pb.Reason_NO_POLICY) {
		return policy.DefaultContactsFor, nil
	}
	if err != nil {
		return 0, err
	}
	return used.ContactsFor(), nil
}

// plannedHome is when the last group of a ride is home as planned: by its newest roster, else by its plan; the start of a
// ride that cannot be planned for want of a policy.
func (s *personalService) plannedHome(tx *ledger.Tx, ride *pb.Ride) (time.Time, error) {
	var plan *pb.RidePlan
	if ride.RosterNumber > 0 {
		issue, err := tx.Roster(names.Last(ride.Name), ride.RosterNumber)
		if err != nil {
			return time.Time{}, err
		}
		plan = issue.Plan
	} else if g, err := s.ground(tx, names.Last(ride.Name)); err == nil {
		plan = g.plan
	} else if !fault.Is(err, pb.Reason_NO_POLICY) {
		return time.Time{}, err
	}
	home := ride.StartAt.AsTime()
	for _, group := range plan.GetGroups() {
		if at := group.HomeAt.AsTime(); at.After(home) {
			home = at
		}
	}
	return home, nil
}
