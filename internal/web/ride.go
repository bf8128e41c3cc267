package web

import (
	"cmp"
	"net/http"
	"slices"
	"time"

	"gritward/internal/fault"
	"gritward/internal/names"
	"gritward/internal/render"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

func (s *site) rideRoutes() {
	s.show("GET /clubs/{club}/rides", (*visit).listRides)
	s.show("GET /clubs/{club}/rides/{ride}", (*visit).showRide)
	s.show("GET /clubs/{club}/rides/{ride}/fresh", (*visit).freshRide)
	s.show("GET /clubs/{club}/rides/{ride}/changes", (*visit).changes)
	s.show("GET /clubs/{club}/rides/{ride}/ride.gpx", (*visit).rideGPX)
	s.show("GET /clubs/{club}/rides/{ride}/sheets.pdf", (*visit).sheets)
}

// ridesOnPage is how many rides a page of the list has.
const ridesOnPage = 50

// ridesView are rides by what they are to somebody who looks for one.
type ridesView struct {
	ToCome, Past, CalledOff []*pb.Ride
	// Older is where the list goes on; "" at its end. Newer: this is not its beginning.
	Older string
	Newer bool
}

func (v *visit) listRides() error {
	token := v.r.URL.Query().Get("before")
	listed, err := v.rides.ListRides(v.ctx, &pb.ListRidesRequest{Parent: v.club(), PageSize: ridesOnPage, PageToken: token})
	if err != nil {
		return err
	}
	view := ridesView{Older: listed.NextPageToken, Newer: token != ""}
	for _, ride := range listed.Rides {
		switch {
		case ride.State == pb.Ride_CALLED_OFF:
			view.CalledOff = append(view.CalledOff, ride)
		case rollcall.Past(ride, v.Now()):
			view.Past = append(view.Past, ride)
		default:
			view.ToCome = append(view.ToCome, ride)
		}
	}
	byStart := func(a, b *pb.Ride) int { return a.StartAt.AsTime().Compare(b.StartAt.AsTime()) }
	slices.SortStableFunc(view.ToCome, byStart)
	slices.SortStableFunc(view.Past, func(a, b *pb.Ride) int { return byStart(b, a) })
	return v.view("rides", "Rides", view)
}

// rideView is what the page of a ride shows.
type rideView struct {
	Ride *pb.Ride
	// Live is what changes while somebody looks.
	Live liveRide
	// Plan is where the groups are when; nil where the club has no policy yet.
	Plan   *pb.RidePlan
	Rows   []render.PlanRow
	Light  pictures
	Route  *render.RoutePicture
	Issues []*pb.Roster
	Share  *pb.RosterShare
	// Leads: who is here leads the ride, or is a secretary. Starts: may open the start line.
	Leads, Starts bool
	// Leader is the name of the ride's leader, where it is told.
	Leader string
}

// liveRide is the part of a ride's page that changes while it is looked at.
type liveRide struct {
	Ride          *pb.Ride
	In, Waiting   []*pb.Signup
	Mine          *pb.Signup
	Left          int
	Made          string
	Opens, Closes string
	// Over: nobody signs up any more, whoever it is.
	Open, Over, Told bool
	// Since is what changed since the newest issue, for who can publish the next.
	Since []string
	// Ended: nobody can be placed any more, since the ride is called off, closed or long past.
	Ended bool
}

// begun tells whether riders of a ride have set off, or its planned start is past.
func begun(ride *pb.Ride, now time.Time) bool {
	return ride.SetOffAt != nil || now.After(ride.StartAt.AsTime())
}

// Off tells whether the ride is called off.
func (r rideView) Off() bool { return r.Ride.GetState() == pb.Ride_CALLED_OFF }

func (v *visit) showRide() error {
	ride, err := v.rides.GetRide(v.ctx, &pb.GetRideRequest{Name: v.ride()})
	if err != nil {
		return err
	}
	view := rideView{Ride: ride, Leads: ride.Leader == v.me() || v.has(pb.Role_SECRETARY)}
	view.Starts = view.Leads || v.has(pb.Role_LEADER)
	if view.Live, err = v.liveRide(ride); err != nil {
		return err
	}
	for _, signup := range view.Live.In {
		if signup.Member == ride.Leader {
			view.Leader = signup.DisplayName
		}
	}
	if ride.RosterNumber > 0 {
		listed, err := v.rides.ListRosters(v.ctx, &pb.ListRostersRequest{Parent: ride.Name})
		if err != nil {
			return err
		}
		view.Issues = listed.Rosters
		slices.SortFunc(view.Issues, func(a, b *pb.Roster) int { return cmp.Compare(b.Number, a.Number) })
		view.Leader = view.Issues[0].LeaderName
		if view.Share, err = v.rides.GetRosterShare(v.ctx, &pb.GetRosterShareRequest{Parent: ride.Name}); err != nil {
			return err
		}
	}
	view.Plan, err = v.rides.PlanRide(v.ctx, &pb.PlanRideRequest{Name: ride.Name})
	switch {
	case err != nil && fault.Read(err).Reason == pb.Reason_NO_POLICY:
	case err != nil:
		return err
	default:
		view.Rows = render.PlanRows(view.Plan, v.who.GetClub().GetZone())
		if view.Light, err = v.lightOf(view.Plan); err != nil {
			return err
		}
	}
	if view.Route, err = v.routeOf(ride, view.Plan.GetGroups(), false); err != nil {
		return err
	}
	return v.view("ride", ride.Title, view)
}

// dayOf is the day of a ride in the club's zone.
func (v *visit) dayOf(ride *pb.Ride) string {
	return v.watch().Local(ride.StartAt.AsTime()).Format(time.DateOnly)
}

// liveRide gathers what changes on a ride's page.
func (v *visit) liveRide(ride *pb.Ride) (liveRide, error) {
	now := v.Now()
	live := liveRide{Ride: ride, Left: -1, Made: v.watch().Local(now).Format("Monday 2 January, 15:04"), Told: !v.has(pb.Role_GUEST)}
	all, err := v.allSignups(&pb.ListSignupsRequest{WithoutStandings: true})
	if err != nil {
		return live, err
	}
	for _, signup := range all {
		if signup.Member == v.me() && signup.State != pb.Signup_WITHDRAWN {
			live.Mine = signup
		}
		switch signup.State {
		case pb.Signup_IN:
			live.In = append(live.In, signup)
		case pb.Signup_WAITING:
			live.Waiting = append(live.Waiting, signup)
		}
	}
	if ride.Places > 0 && live.Told {
		live.Left = max(0, int(ride.Places)-len(live.In))
	}
	live.Ended = ride.State == pb.Ride_CALLED_OFF || rollcall.Past(ride, now)
	if v.leads(ride) && ride.RosterNumber > 0 && !live.Ended {
		issue, err := v.rides.GetRoster(v.ctx, &pb.GetRosterRequest{Name: ride.Name + "/rosters/" + names.Any})
		if err != nil {
			return live, err
		}
		live.Since = issue.Since
	}
	live.Over = live.Ended || begun(ride, now)
	closes := ride.StartAt.AsTime()
	if ride.SignupClosesAt.IsValid() {
		closes = ride.SignupClosesAt.AsTime()
	}
	live.Open = !live.Over && now.Before(closes)
	live.Closes = v.watch().Local(closes).Format("Monday 2 January, 15:04")
	if opens := ride.SignupOpensAt; opens.IsValid() && now.Before(opens.AsTime()) {
		live.Open, live.Opens = false, v.watch().Local(opens.AsTime()).Format("Monday 2 January, 15:04")
	}
	return live, nil
}

// freshRide is the part of a ride's page that changes, by itself.
func (v *visit) freshRide() error {
	ride, err := v.rides.GetRide(v.ctx, &pb.GetRideRequest{Name: v.ride()})
	if err != nil {
		return err
	}
	live, err := v.liveRide(ride)
	if err != nil {
		return err
	}
	return v.part(http.StatusOK, "live ride", rideView{Ride: ride, Live: live})
}

// rideState says how far a ride has come, with a shape for each.
func rideState(ride *pb.Ride) string {
	switch ride.GetState() {
	case pb.Ride_OPEN:
		return "○ Open"
	case pb.Ride_PUBLISHED:
		return "● Published"
	case pb.Ride_CLOSED:
		return "✓ Closed: everybody is accounted for"
	case pb.Ride_CALLED_OFF:
		return "✕ Called off"
	}
	return ""
}
