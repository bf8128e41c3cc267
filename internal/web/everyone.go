package web

import (
	"cmp"
	"regexp"
	"slices"
	"strings"
	"sync"

	pb "gritward/proto/gritward/v1"
)

// most is how many records are asked for at a time.
const most = 1000

// maxPages bounds how many times that is, so that no answer has a page go on for ever.
const maxPages = 20

// pages reads all pages of a list.
func pages[T any](ask func(token string) ([]T, string, error)) (all []T, err error) {
	token := ""
	for range maxPages {
		some, next, err := ask(token)
		if err != nil {
			return nil, err
		}
		all = append(all, some...)
		if next == "" || next == token {
			break
		}
		token = next
	}
	return all, nil
}

// everyone are the members of the club, in the order of their names.
func (v *visit) everyone() ([]*pb.Member, error) {
	all, err := pages(func(token string) ([]*pb.Member, string, error) {
		answer, err := v.clubs.ListMembers(v.ctx, &pb.ListMembersRequest{Parent: v.club(), PageSize: most, PageToken: token})
		return answer.GetMembers(), answer.GetNextPageToken(), err
	})
	slices.SortStableFunc(all, func(a, b *pb.Member) int {
		return cmp.Or(cmp.Compare(strings.ToLower(a.DisplayName), strings.ToLower(b.DisplayName)), cmp.Compare(a.Name, b.Name))
	})
	return all, err
}

// called are the names that members are shown by, by the names of their records.
func called(members []*pb.Member) map[string]string {
	names := map[string]string{}
	for _, member := range members {
		names[member.Name] = member.DisplayName
	}
	return names
}

// memberName is the name of a member's record within a text.
var memberName = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\bclubs/[a-z0-9-]+/members/[a-z0-9-]+`) })

// spelled is a text of the server with members by the names that they are shown by.
func spelled(text string, called map[string]string) string {
	return memberName().ReplaceAllStringFunc(text, func(name string) string {
		if shown := called[name]; shown != "" {
			return shown
		}
		return name
	})
}
