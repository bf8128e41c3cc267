package cli

import (
	"strconv"
	"strings"

	"gritward/internal/names"
)

// A record is named by the last part of its resource name, or by the whole of it. The club is the token's.

// rideName is the resource name of a ride.
func (s *session) rideName(ref string) (string, error) {
	if strings.HasPrefix(ref, "clubs/") {
		return ref, nil
	}
	if !names.ValidID(ref) {
		return "", usagef("%q is not the id of a ride; gritward ride list shows them", ref)
	}
	return names.Ride(s.set.Club(), ref), nil
}

// memberName is the resource name of a member; "" is the caller's own.
func (s *session) memberName(ref string) (string, error) {
	if ref == "" {
		who, err := s.me()
		return who.GetMember().GetName(), err
	}
	if strings.HasPrefix(ref, "clubs/") {
		return ref, nil
	}
	if !names.ValidID(ref) {
		return "", usagef("%q is not the id of a member; gritward member list shows them", ref)
	}
	return names.Member(s.set.Club(), ref), nil
}

// bikeName is the resource name of a bike: "bike" of the member owner ("" is the caller), or "member/bike".
func (s *session) bikeName(ref, owner string) (string, error) {
	if strings.HasPrefix(ref, "clubs/") {
		return ref, nil
	}
	bike := ref
	if before, after, ok := strings.Cut(ref, "/"); ok {
		owner, bike = before, after
	}
	if !names.ValidID(bike) {
		return "", usagef("%q is not the id of a bike; write BIKE or MEMBER/BIKE, as gritward bike list shows them", ref)
	}
	member, err := s.memberName(owner)
	if err != nil {
		return "", err
	}
	return member + "/bikes/" + bike, nil
}

// policyName is the resource name of an adopted policy, by its number.
func (s *session) policyName(ref string) (string, error) {
	n, err := strconv.ParseInt(ref, 10, 32)
	if err != nil || n < 1 {
		return "", usagef("%q is not the number of a policy; gritward policy history shows them", ref)
	}
	return names.Policy(s.set.Club(), int32(n)), nil
}

// clubName is the resource name of the caller's club.
func (s *session) clubName() string { return names.Club(s.set.Club()) }

// shortBike is a bike as a person writes it: "bike" when it is the caller's own, otherwise "member/bike".
func (s *session) shortBike(name string) string {
	member := names.Part(name, "members")
	if s.who != nil && names.Last(s.who.GetMember().GetName()) == member {
		return names.Part(name, "bikes")
	}
	return member + "/" + names.Part(name, "bikes")
}
