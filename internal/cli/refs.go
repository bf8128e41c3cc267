package cli

import (
	"cmp"
	"strconv"
	"strings"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// A record is named by the last part of its resource name, or by the whole of it. The club is the token's. A member is
// named by the name too, a bike by its title: their ids say nothing of them.

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
	if names.IsMemberID(ref) {
		return names.Member(s.set.Club(), ref), nil
	}
	known, err := s.people()
	if err != nil {
		return "", err
	}
	if found, err := meant(ref, known); found != "" || err != nil {
		return found, err
	}
	if !names.ValidID(ref) {
		return "", usagef("%q is not the name or id of a member; gritward member list shows them", ref)
	}
	return names.Member(s.set.Club(), ref), nil
}

// ref is what to type for a member; the id where the members may not be read.
func (s *session) ref(member string) string {
	known, err := s.people()
	if err != nil {
		return names.Last(member)
	}
	return known.ref(member)
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
	member, err := s.memberName(owner)
	if err != nil {
		return "", err
	}
	if found, err := s.bikeCalled(bike, member); found != "" || err != nil {
		return found, err
	}
	if !names.ValidID(bike) {
		return "", usagef("%q is not the title or id of a bike; write BIKE or MEMBER/BIKE, as gritward bike list shows them", ref)
	}
	return member + "/bikes/" + bike, nil
}

// bikeCalled finds a bike of a member by its title, one in use before one that is retired; "" where there is none, or the
// ref is an id.
func (s *session) bikeCalled(title, member string) (string, error) {
	bikes, err := s.allBikes(member)
	if err != nil {
		return "", ignoring(err, pb.Reason_NOT_ALLOWED, pb.Reason_NOT_FOUND)
	}
	inUse, all := map[string]string{}, map[string]string{}
	for _, bike := range bikes {
		if names.Last(bike.GetName()) == title {
			return bike.GetName(), nil
		}
		all[bike.GetName()] = bike.GetDeclaration().GetFacts().GetTitle()
		if bike.GetRetiredAt() == nil {
			inUse[bike.GetName()] = all[bike.GetName()]
		}
	}
	if found, err := meant(title, inUse); found != "" || err != nil {
		return found, err
	}
	return meant(title, all)
}

// ignoring is an error unless it is of one of the reasons.
func ignoring(err error, reasons ...pb.Reason) error {
	for _, reason := range reasons {
		if isReason(err, reason) {
			return nil
		}
	}
	return err
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
	if member, _, _ := strings.Cut(name, "/bikes/"); s.who != nil && s.who.GetMember().GetName() == member {
		return s.bikeRef(name)
	}
	return s.memberBike(name)
}

// memberBike is a bike with its member, whoever asks.
func (s *session) memberBike(name string) string {
	member, _, _ := strings.Cut(name, "/bikes/")
	return s.ref(member) + "/" + s.bikeRef(name)
}

// bikeRef is what to type for a bike of a member: its title as a slug, where it is known and the member has no other of it;
// otherwise its id.
func (a *app) bikeRef(name string) string {
	member, id, _ := strings.Cut(name, "/bikes/")
	slug := names.Slug(a.bikeTitles[name], maxSlug)
	for other, title := range a.bikeTitles {
		if other != name && strings.HasPrefix(other, member+"/") && names.Slug(title, maxSlug) == slug {
			return id
		}
	}
	return cmp.Or(slug, id)
}
