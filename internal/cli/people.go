package cli

import (
	"maps"
	"regexp"
	"slices"
	"strings"

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

// ref is what to type for a member: the name as a slug, "ida-holm", where no other has it; otherwise the id.
func (p people) ref(member string) string {
	slug := names.Slug(p[member], maxSlug)
	if slug == "" {
		return names.Last(member)
	}
	for other, shown := range p {
		if other != member && names.Slug(shown, maxSlug) == slug {
			return names.Last(member)
		}
	}
	return slug
}

// both is a member's name with what to type.
func (p people) both(member string) string {
	if shown := p[member]; shown != "" {
		return shown + " (" + p.ref(member) + ")"
	}
	return names.Last(member)
}

// maxSlug is the length of the longest slug made of a name or title.
const maxSlug = 80

// idWord is what may be the id of a member, alone or before that of a bike.
var idWord = regexp.MustCompile(`\b[2-9b-z]{8}(/bike-\d+)?\b`)

// named is a text with what to type for a member or bike in the place of ids, as far as they have been read.
func (a *app) named(text string) string {
	all := people{}
	if a.self != nil {
		all[a.self.GetName()] = a.self.GetDisplayName()
	}
	maps.Copy(all, a.known)
	known := map[string]string{}
	for name := range all {
		known[names.Last(name)] = name
	}
	return idWord.ReplaceAllStringFunc(text, func(word string) string {
		id, bike, below := strings.Cut(word, "/")
		name, there := known[id]
		switch {
		case !there:
			return word
		case below:
			return all.ref(name) + "/" + a.bikeRef(name+"/bikes/"+bike)
		}
		return all.ref(name)
	})
}

// meant finds which of those in the list, resource names with what people call them, a person means: by the whole of what
// it is called or a start of it that no other has, however it is written. "" where it is none. The error is that it may be
// several.
func meant(ref string, called map[string]string) (string, error) {
	want := fold(ref)
	var whole, begun []string
	for name, words := range called {
		switch have := fold(words); {
		case have == want:
			whole = append(whole, name)
		case strings.HasPrefix(have, want):
			begun = append(begun, name)
		}
	}
	found := whole
	if len(found) == 0 {
		found = begun
	}
	switch {
	case want == "" || len(found) == 0:
		return "", nil
	case len(found) == 1:
		return found[0], nil
	}
	slices.Sort(found)
	var each []string
	for _, name := range found[:min(len(found), maxNearIDs)] {
		each = append(each, called[name]+" ("+names.Last(name)+")")
	}
	return "", usagef("%q may be %s; write more of it, or the id", ref, strings.Join(each, " or "))
}

// fold is a name as it is compared: as a slug, or where nothing is left of it, in another script, in lower case.
func fold(words string) string {
	if slug := names.Slug(words, maxSlug); slug != "" {
		return slug
	}
	return strings.ToLower(strings.TrimSpace(words))
}

// may tells whether the caller has the role. Call me first.
func (s *session) may(role pb.Role) bool { return slices.Contains(s.who.GetMember().GetRoles(), role) }
