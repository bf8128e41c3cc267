package web

import pb "gritward/proto/gritward/v1"

func (s *site) homeRoutes() {
	s.show("GET /{$}", (*visit).home)
}

// homeView is what the first page shows.
type homeView struct {
	Rides []*pb.Ride
}

// homeRides is how many rides the first page lists.
const homeRides = 20

// home shows the rides to come.
func (v *visit) home() error {
	listed, err := v.rides.ListRides(v.ctx, &pb.ListRidesRequest{Parent: v.club(), PageSize: homeRides})
	if err != nil {
		return err
	}
	v.keep(v.w, v.token(v.r)) // for as long again
	return v.view("home", "Rides", homeView{listed.Rides})
}
