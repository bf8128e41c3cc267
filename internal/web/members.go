package web

import (
	"slices"
	"strconv"
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

func (s *site) membersRoutes() {
	s.show("GET /clubs/{club}/members", (*visit).members)
	s.show("GET /clubs/{club}/members/{member}/roles", (*visit).memberForm)
	s.take("/clubs/{club}/members/{member}/roles", (*visit).memberChange)
	s.show("GET /clubs/{club}/members/{member}/suspend", (*visit).memberSuspendAsk)
	s.take("/clubs/{club}/members/{member}/suspend", (*visit).memberSuspend)
	s.take("/clubs/{club}/members/{member}/reinstate", (*visit).memberReinstate)
	s.take("/clubs/{club}/members/{member}/devices/{device}/shut", (*visit).deviceShut)
	s.take("/clubs/{club}/members/{member}/invite", (*visit).deviceInvite)
}

// aPage is how many members one page of the list shows.
const aPage = 60

// membersView is the list of members.
type membersView struct {
	Members []*pb.Member
	// Find is what was looked for, Which whom of all: see whichOf.
	Find, Which string
	// Found is how many there are, All how many members.
	Found, All int
	// Page is the page shown, from 1, of Pages.
	Page, Pages int
	// Open is how many invites are open.
	Open int
}

// whichOf are the parts of the list that can be looked at alone, by the word in the address.
var whichOf = map[string]func(*pb.Member) bool{
	"":            func(m *pb.Member) bool { return m.ErasedAt == nil },
	"leaders":     func(m *pb.Member) bool { return slices.Contains(m.Roles, pb.Role_LEADER) || m.MayLead },
	"back":        func(m *pb.Member) bool { return m.MayMarkBack },
	"secretaries": func(m *pb.Member) bool { return slices.Contains(m.Roles, pb.Role_SECRETARY) },
	"juniors":     func(m *pb.Member) bool { return m.Junior },
	"guests":      func(m *pb.Member) bool { return slices.Contains(m.Roles, pb.Role_GUEST) },
	"suspended":   func(m *pb.Member) bool { return m.SuspendedAt != nil },
}

// At is the end of the address of another page of the same list.
func (m membersView) At(page int) string {
	return "?" + query("find", m.Find, "which", m.Which, "page", strconv.Itoa(page))
}

func (m membersView) filled(form *Form) {
	form.with(map[string][]string{"find": {m.Find}, "which": {m.Which}})
}

// members lists the members for a secretary.
func (v *visit) members() error {
	invites, err := v.openInvites() // only secretaries may see them
	if err != nil {
		return err
	}
	all, err := v.everyone()
	if err != nil {
		return err
	}
	asked := v.r.URL.Query()
	shown := membersView{Find: strings.TrimSpace(asked.Get("find")), Which: asked.Get("which"), Open: len(invites)}
	wanted, known := whichOf[shown.Which]
	if !known {
		shown.Which, wanted = "", whichOf[""]
	}
	looked := strings.ToLower(shown.Find)
	for _, member := range all {
		if member.ErasedAt == nil {
			shown.All++
		}
		if wanted(member) && strings.Contains(strings.ToLower(member.DisplayName), looked) {
			shown.Members = append(shown.Members, member)
		}
	}
	shown.Found = len(shown.Members)
	shown.Pages = max(1, (shown.Found+aPage-1)/aPage)
	page, _ := strconv.Atoi(asked.Get("page"))
	shown.Page = min(max(page, 1), shown.Pages)
	shown.Members = shown.Members[(shown.Page-1)*aPage : min(shown.Page*aPage, shown.Found)]
	return v.view("members", "Members", shown)
}

// Roles are what a member is and may do.
func (membersView) Roles(m *pb.Member) string { return rolesOf(m) }

// rolesOf are a member's roles beside that of every member, and what the member is qualified for, in words.
func rolesOf(m *pb.Member) string {
	var said []string
	for _, role := range []struct {
		role  pb.Role
		words string
	}{{pb.Role_SECRETARY, "secretary"}, {pb.Role_LEADER, "ride leader"}, {pb.Role_GUEST, "guest of one ride"}} {
		if slices.Contains(m.GetRoles(), role.role) {
			said = append(said, role.words)
		}
	}
	if m.GetMayLead() {
		said = append(said, "may lead a group")
	}
	if m.GetMayMarkBack() {
		said = append(said, "may mark the back")
	}
	if m.GetJunior() {
		said = append(said, "junior")
	}
	if said == nil {
		return "member"
	}
	return phrase.List(said)
}

// Before and After are the pages next to the one that is shown.
func (m membersView) Before() int { return m.Page - 1 }

// After is the page that follows.
func (m membersView) After() int { return m.Page + 1 }
