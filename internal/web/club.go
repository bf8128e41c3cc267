package web

func (s *site) clubRoutes() {}
