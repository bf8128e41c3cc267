package web

import (
	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

// planView is where each group is when, and in what light.
type planView struct {
	led
	Plan  *pb.RidePlan
	Rows  []render.GroupTold
	Light pictures
	// Leads: who looks may change the ride.
	Leads bool
}

// plan shows the plan of a ride. Who stands worse with a later start is told to those who may know it.
func (v *visit) plan() error {
	ride, err := v.rides.GetRide(v.ctx, &pb.GetRideRequest{Name: v.ride()})
	if err != nil {
		return err
	}
	plan, err := v.rides.PlanRide(v.ctx, &pb.PlanRideRequest{Name: ride.Name})
	if err != nil {
		return err
	}
	light, err := v.lightOf(plan)
	if err != nil {
		return err
	}
	return v.view("leader-plan", "Plan", planView{v.atRide(ride), plan, render.PlanTold(plan, v.who.GetClub().GetZone()), light, v.leads(ride)})
}

// timesView is how long groups took on past rides.
type timesView struct {
	Group string
	Times []*pb.RecordedTime
	More  string
}

// recordedTimes shows how long groups took.
func (v *visit) recordedTimes() error {
	query := v.r.URL.Query()
	listed, err := v.rides.ListRecordedTimes(v.ctx, &pb.ListRecordedTimesRequest{Parent: v.club(), Group: query.Get("group"), PageToken: query.Get("from")})
	if err != nil {
		return err
	}
	return v.view("leader-times", "How long groups took", timesView{query.Get("group"), listed.Times, listed.NextPageToken})
}
