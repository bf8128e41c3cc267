package web

func (s *site) leaderRoutes() {}
