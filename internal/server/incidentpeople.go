package server

import (
	"cmp"
	"fmt"
	"slices"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// wasRider tells whether a member has a place on a ride, or is marked in its roll call.
func wasRider(tx *ledger.Tx, ride *pb.Ride, member string) (bool, error) {
	signup, err := tx.FindSignup(names.Last(ride.Name), names.Last(member))
	if err != nil || signup.GetState() == pb.Signup_IN {
		return err == nil, err
	}
	marks, err := marksOf(tx, names.Last(ride.Name))
	return slices.ContainsFunc(marks, func(mark *pb.Mark) bool { return mark.Member == member }), err
}

func concernsMember(people []*pb.IncidentPerson, member string) bool {
	return slices.ContainsFunc(people, func(one *pb.IncidentPerson) bool { return one.Member == member })
}

// knowsOnRide tells whether a caller may be told a member's name in a record of a ride: a guest only of who leads or rides it.
func knowsOnRide(tx *ledger.Tx, who *caller, ride *pb.Ride, member string) (bool, error) {
	if !isGuest(who.member) || leads(ride, member) {
		return true, nil
	}
	return wasRider(tx, ride, member)
}

// peopleSound refuses an incident that names a member who is not there. A guest may name those on the ride alone, and hears
// the same of every other, there or not.
func peopleSound(tx *ledger.Tx, who *caller, ride *pb.Ride, incident *pb.Incident) error {
	for i, list := range [][]*pb.IncidentPerson{incident.Concerned, incident.Saw} {
		for k, one := range list {
			one.DisplayName = ""
			if one.Member == "" {
				continue
			}
			path := fmt.Sprintf("incident.%s[%d].member", []string{"concerned", "saw"}[i], k)
			ids, err := names.In(tx.Club, path, one.Member, names.MemberShape)
			if err != nil {
				return err
			}
			known, err := knowsOnRide(tx, who, ride, one.Member)
			if err != nil {
				return err
			}
			if !known {
				return fault.Invalid(path, "%q is not on the ride; give the name as that of somebody else", ids[1])
			}
			if _, err := memberAt(tx, path, one.Member); err != nil {
				return err
			}
		}
	}
	return nil
}

// shown puts into a record what is computed when it is read: names, and how it stands with the insurer. A guest is
// told the names of those on the ride alone.
func (s *incidentService) shown(tx *ledger.Tx, who *caller, ride *pb.Ride, incident *pb.Incident) (err error) {
	name := func(member string) string {
		known, e := knowsOnRide(tx, who, ride, member)
		err = cmp.Or(err, e)
		if !known {
			return ""
		}
		found, e := expected(tx, member)
		err = cmp.Or(err, e)
		return found.GetDisplayName()
	}
	for _, list := range [][]*pb.IncidentPerson{incident.Concerned, incident.Saw} {
		for _, one := range list {
			if one.Member != "" {
				one.DisplayName = name(one.Member)
			}
		}
	}
	for _, one := range incident.Amendments {
		one.ByName = name(one.By)
	}
	incident.RecordedByName = name(incident.RecordedBy)
	if err != nil {
		return err
	}
	incident.Summary, err = s.incidentSummary(tx, ride, incident)
	return err
}
