package web

func (s *site) rosterRoutes() {}
