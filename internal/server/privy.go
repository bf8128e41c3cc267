package server

import (
	"slices"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// privyTo says of whom a caller may know what is wrong with the bike, and who is a junior: of everybody on a ride, for a
// secretary and for whoever leads the ride or a group of it, by its newest roster or one of issues; else of the caller, of those whose guardian the caller is, and
// of those who ride under the caller's name.
func privyTo(tx *ledger.Tx, who *caller, ride *pb.Ride, issues ...*pb.Roster) (func(member string) bool, error) {
	self := who.member.Name
	if who.has(pb.Role_SECRETARY) || leads(ride, self) {
		return anybody, nil
	}
	for _, issue := range issues {
		inIt := slices.ContainsFunc(issue.GetPlacement().GetGroups(), func(group *pb.RosterGroup) bool { return group.Leader == self })
		if leads(issue.Ride, self) || inIt {
			return anybody, nil
		}
	}
	if on, err := leadsOn(tx, who, names.Last(ride.GetName())); on || err != nil {
		return anybody, err
	}
	known := map[string]bool{self: true}
	err := tx.Wards(who.id(), func(member *pb.Member) error {
		if inCareOf(member, self) {
			known[member.Name] = true
		}
		return nil
	})
	return func(member string) bool { return known[member] }, err
}

func anybody(string) bool { return true }

// leads tells whether a member leads a ride, or is named to lead a group of it.
func leads(ride *pb.Ride, member string) bool {
	return ride.GetLeader() == member || slices.ContainsFunc(ride.GetGroups(), func(group *pb.Group) bool { return group.Leader == member })
}

// inCareOf tells whether a member is a junior whose guardian is the other, or a guest under the other's name.
func inCareOf(member *pb.Member, other string) bool {
	return member.Junior && member.Guardian == other || isGuest(member) && member.Host == other
}

// hostOf is the name of whom a guest rides under; "" for a member.
func hostOf(tx *ledger.Tx, member *pb.Member) (string, error) {
	if !isGuest(member) || member.Host == "" {
		return "", nil
	}
	host, err := tx.PeekMember(names.Last(member.Host))
	if fault.Is(err, pb.Reason_NOT_FOUND) {
		return names.Last(member.Host), nil
	}
	return host.GetDisplayName(), err
}
