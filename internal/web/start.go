package web

func (s *site) startRoutes() {}
