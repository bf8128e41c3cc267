package web

func (s *site) bikeRoutes() {}
