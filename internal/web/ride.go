package web

func (s *site) rideRoutes() {}
