package cli

import (
	"slices"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// people are the names of the club's members by resource name. A guest may not read the members, and gets none.
type people map[string]string

// people asks, once, for the members' names.
func (s *session) people() (people, error) {
	if s.known != nil {
		return s.known, nil
	}
	members, err := s.allMembers()
	if err != nil && !isReason(err, pb.Reason_NOT_ALLOWED) {
		return nil, err
	}
	s.known = people{}
	for _, member := range members {
		s.known[member.GetName()] = member.GetDisplayName()
	}
	return s.known, nil
}

// allMembers reads every page of the list of members.
func (s *session) allMembers() ([]*pb.Member, error) {
	return allPages(func(token string) ([]*pb.Member, string, error) {
		answer, err := s.clubs.ListMembers(s.ctx,
			&pb.ListMembersRequest{Parent: s.clubName(), PageSize: pageSize, PageToken: token})
		return answer.GetMembers(), answer.GetNextPageToken(), err
	})
}

// name is a member's name, or the id where it is not known; "" for nobody.
func (p people) name(member string) string {
	if shown := p[member]; shown != "" {
		return shown
	}
	return names.Last(member)
}

// both is a member's name with the id to type.
func (p people) both(member string) string {
	if shown := p[member]; shown != "" {
		return shown + " (" + names.Last(member) + ")"
	}
	return names.Last(member)
}

// may tells whether the caller has the role. Call me first.
func (s *session) may(role pb.Role) bool { return slices.Contains(s.who.GetMember().GetRoles(), role) }
