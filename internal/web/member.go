package web

import "gritward/internal/names"

func (s *site) memberRoutes() {
	s.show("GET /clubs/{club}/members/{member}", (*visit).member)
}

// asked is the name of the member that the path names.
func (v *visit) asked() string { return names.Member(v.r.PathValue("club"), v.r.PathValue("member")) }

// member is the page of a member: one's own, or another's as a secretary sees it.
func (v *visit) member() error {
	if v.asked() == v.me() {
		return v.myself()
	}
	return v.memberForm()
}
