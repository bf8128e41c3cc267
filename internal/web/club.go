package web

// clubRoutes are the pages about the club: its members, its policy, its season, and what went wrong.
func (s *site) clubRoutes() {
	s.memberRoutes()
	s.membersRoutes()
	s.invitesRoutes()
	s.policyRoutes()
	s.seasonRoutes()
	s.incidentRoutes()
	s.show("GET /clubs/{club}/audit", (*visit).audit)
}
