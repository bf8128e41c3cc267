package roster

import (
	"slices"

	"gritward/internal/brief"
	pb "gritward/proto/gritward/v1"
)

// SharedWith is an issue as people outside the club see it. It is made of what they may see, so that whatever an issue comes to
// hold stays within until it is put here. Named tells whose name may be seen; who is a junior or a guest is never named.
func SharedWith(issue *pb.Roster, named func(member string) bool) *pb.Roster {
	shared := &pb.Roster{
		Number: issue.Number, PublishedAt: issue.PublishedAt, Ride: sharedRide(issue.Ride), ClubTitle: issue.ClubTitle, Zone: issue.Zone,
		Plan: sharedPlan(issue.Plan), Placement: &pb.Placement{}, Withheld: true,
	}
	if named(issue.GetRide().GetLeader()) {
		shared.LeaderName = issue.LeaderName
	}
	for _, group := range issue.GetPlacement().GetGroups() {
		told := &pb.RosterGroup{Group: group.Group, Title: group.Title, Plan: sharedGroup(group.Plan)}
		for _, row := range group.Rows {
			told.Rows = append(told.Rows, &pb.Row{Left: sharedRider(row.Left, named), Right: sharedRider(row.Right, named)})
		}
		shared.Placement.Groups = append(shared.Placement.Groups, told)
	}
	made := brief.Compose(shared)
	made.Spoken = nil
	made.Sections = slices.DeleteFunc(made.Sections, func(part *pb.BriefSection) bool { return !slices.Contains(sharedParts, part.Id) })
	shared.Brief = made
	return shared
}

// sharedParts are the parts of a brief that are about nobody.
var sharedParts = []string{"daylight", "conditions", "hazards", "kit", "cautions"}

// sharedRide is what a ride is: what people wrote of why, and whom to ring, is not in it.
func sharedRide(ride *pb.Ride) *pb.Ride {
	if ride == nil {
		return nil
	}
	shared := &pb.Ride{
		Title: ride.Title, StartLocal: ride.StartLocal, StartAt: ride.StartAt, MeetingPoint: ride.MeetingPoint, State: ride.State,
		Stops: ride.Stops, Hazards: ride.Hazards, WaysOut: ride.WaysOut, SingleFile: ride.SingleFile,
	}
	if route := ride.Route; route != nil {
		shared.Route = &pb.RouteSummary{DistanceM: route.DistanceM, AscentM: route.AscentM, HasElevation: route.HasElevation, Shape: route.Shape}
	}
	return shared
}

// sharedPlan is a plan without how it was reckoned, and without whose lamps it rests on.
func sharedPlan(plan *pb.RidePlan) *pb.RidePlan {
	if plan == nil {
		return nil
	}
	shared := &pb.RidePlan{
		SunriseAt: plan.SunriseAt, SunsetAt: plan.SunsetAt, CivilDawnAt: plan.CivilDawnAt, CivilDuskAt: plan.CivilDuskAt,
		DarkBeginsAt: plan.DarkBeginsAt, DarkEndsAt: plan.DarkEndsAt, Margin: plan.Margin, Weather: plan.Weather,
		WeatherBasis: plan.WeatherBasis, ForecastAgeMin: plan.ForecastAgeMin,
	}
	for _, group := range plan.Groups {
		shared.Groups = append(shared.Groups, sharedGroup(group))
	}
	return shared
}

func sharedGroup(plan *pb.GroupPlan) *pb.GroupPlan {
	if plan == nil {
		return nil
	}
	return &pb.GroupPlan{
		Group: plan.Group, Title: plan.Title, PaceKmh: plan.PaceKmh, StartAt: plan.StartAt, HomeAt: plan.HomeAt, RidingMin: plan.RidingMin,
		LitMin: plan.LitMin, DarkMin: plan.DarkMin, FirstDarkAt: plan.FirstDarkAt, MarginMin: plan.MarginMin, LatestStartAt: plan.LatestStartAt,
		Circumstances: plan.Circumstances, TemperatureMinC: plan.TemperatureMinC, FeelsLikeMinC: plan.FeelsLikeMinC,
		VisibilityMinM: plan.VisibilityMinM, GustMaxKmh: plan.GustMaxKmh, Light: plan.Light, Points: plan.Points, DistanceM: plan.DistanceM,
		Ice: plan.Ice, IceWhy: plan.IceWhy,
	}
}

// sharedRider is a rider who is named, or is not.
func sharedRider(rider *pb.Rider, named func(member string) bool) *pb.Rider {
	if rider == nil {
		return nil
	}
	shared := &pb.Rider{Leads: rider.Leads, MarksBack: rider.MarksBack}
	if !rider.Junior && rider.GuestOf == "" && named(rider.Member) {
		shared.DisplayName = rider.DisplayName
	}
	return shared
}

// ClearOfPeople is a line without the waypoints of its file, which people wrote for themselves.
func ClearOfPeople(line *pb.RouteLine) *pb.RouteLine {
	return &pb.RouteLine{
		LatDeg: line.LatDeg, LonDeg: line.LonDeg, ElevM: line.ElevM, SegmentStarts: line.SegmentStarts,
		AtDistanceM: line.AtDistanceM, SmoothElevM: line.SmoothElevM, Climbs: line.Climbs, Descents: line.Descents,
	}
}

// RidersOf counts who rides by an issue, and of whom the name may be seen.
func RidersOf(issue *pb.Roster, named func(member string) bool) (told, riders int32) {
	for _, group := range issue.GetPlacement().GetGroups() {
		for _, rider := range ridersOf(group) {
			riders++
			if sharedRider(rider, named).DisplayName != "" {
				told++
			}
		}
	}
	return told, riders
}
