package web

import (
	"slices"
	"time"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/names"
	"gritward/internal/waypoint"
	pb "gritward/proto/gritward/v1"
)

const (
	// routeField is what forms call the file of a route.
	routeField = "route_gpx"
	// earlierRides is how many earlier rides a new one can be made like.
	earlierRides = 12
)

// usualGroups are what a new ride begins with: common practice, no source.
func usualGroups() []*pb.Group {
	return []*pb.Group{{Id: "brisk", Title: "Brisk", PaceKmh: 27}, {Id: "steady", Title: "Steady", PaceKmh: 23.5}, {Id: "easy", Title: "Easy", PaceKmh: 18}}
}

// newRide shows the form of a new ride: with three usual groups, or like an earlier ride.
func (v *visit) newRide() error {
	form, err := v.newRideForm(v.r.URL.Query().Get("like"))
	if err != nil {
		return err
	}
	return v.view("leader-new", "New ride", form)
}

func (v *visit) newRideForm(like string) (*rideForm, error) {
	if !v.has(pb.Role_LEADER) {
		return nil, fault.New(pb.Reason_NOT_ALLOWED, "rides are made by leaders; a secretary says who is one")
	}
	people, err := v.everybody()
	if err != nil {
		return nil, err
	}
	listed, err := v.rides.ListRides(v.ctx, &pb.ListRidesRequest{Parent: v.club(), PageSize: earlierRides})
	if err != nil {
		return nil, err
	}
	form := &rideForm{people: people, Earlier: earlierFirst(listed.Rides)}
	begun := &pb.Ride{Groups: usualGroups()}
	if like != "" {
		if form.Like, err = v.rides.GetRide(v.ctx, &pb.GetRideRequest{Name: names.Ride(names.Last(v.club()), like)}); err != nil {
			return nil, err
		}
		begun = v.asBefore(form.Like)
	}
	form.begun = rideFilled(begun, v.who.GetClub().GetZone())
	form.begun.Set("waypoints", "true")
	return form, nil
}

// asBefore is a new ride like an earlier one, at the same time of the week: on the first such day that is still to come.
// Weather and people of the day are not taken.
func (v *visit) asBefore(earlier *pb.Ride) *pb.Ride {
	made := &pb.Ride{Title: earlier.Title, MeetingPoint: earlier.MeetingPoint, Stops: earlier.Stops, Hazards: earlier.Hazards,
		WaysOut: earlier.WaysOut, Places: earlier.Places, SingleFile: earlier.SingleFile, RecordedTimes: earlier.RecordedTimes}
	if earlier.Leader == v.me() {
		made.LeaderPhone = earlier.LeaderPhone
	}
	for _, group := range earlier.Groups {
		made.Groups = append(made.Groups, &pb.Group{Id: group.Id, Title: group.Title, PaceKmh: group.PaceKmh, MinSize: group.MinSize,
			MaxSize: group.MaxSize, StartOffsetMin: group.StartOffsetMin})
	}
	if start, err := time.Parse(civil.TimeLayout, earlier.StartLocal); err == nil {
		now, _ := time.Parse(civil.TimeLayout, v.watch().Local(v.Now()).Format(civil.TimeLayout))
		for !start.After(now) {
			start = start.AddDate(0, 0, 7)
		}
		if start.Format(civil.TimeLayout) == earlier.StartLocal {
			start = start.AddDate(0, 0, 7) // the ride itself is still to come
		}
		made.StartLocal = start.Format(civil.TimeLayout)
	}
	return made
}

// createRide makes a ride of the form and the route that came with it.
func (v *visit) createRide() error {
	like := v.form().Get("like")
	form, err := v.newRideForm(like)
	if err != nil {
		return err
	}
	if v.form().Get("more") != "" {
		closeAll(v.form())
		return v.view("leader-new", "New ride", form)
	}
	request, err := v.rideAsked(form)
	if err != nil {
		v.refuse(err, "leader-new", "New ride", form)
		return nil
	}
	ride, err := v.rides.CreateRide(v.ctx, request)
	if err != nil {
		v.refuse(err, "leader-new", "New ride", form)
		return nil
	}
	return v.to("/"+ride.Name+"/plan", "ride-made")
}

func (v *visit) rideAsked(form *rideForm) (*pb.CreateRideRequest, error) {
	ride, err := rideIn(v.form(), v.who.GetClub().GetZone(), form.Like)
	if err != nil {
		return nil, err
	}
	request := &pb.CreateRideRequest{Parent: v.club(), Ride: ride, RequestId: v.form().Get("once")}
	file, err := v.file(routeField, maxFile)
	switch {
	case err != nil:
		return nil, err
	case file != nil:
		if v.form().Get("waypoints") == "true" {
			waypoint.Take(ride, file.Reader())
		}
		if request.RouteGpx, err = file.Bytes(); err != nil {
			return nil, err
		}
		if len(request.RouteGpx) == 0 {
			return nil, fault.Invalid(routeField, "the file is empty")
		}
	case form.Like != nil:
		request.RouteOf = form.Like.Name
	default:
		return nil, fault.Invalid(routeField, "choose the route: a GPX file")
	}
	return request, nil
}

// closeAll takes the empty rows out of all lists of a ride's form.
func closeAll(form map[string][]string) {
	for _, rows := range rideRows {
		closeUp(form, "ride."+rows.list, rows.told, rows.most)
	}
}

// earlierFirst orders rides with the latest first.
func earlierFirst(rides []*pb.Ride) []*pb.Ride {
	slices.SortStableFunc(rides, func(a, b *pb.Ride) int { return b.GetStartAt().AsTime().Compare(a.GetStartAt().AsTime()) })
	return rides
}
