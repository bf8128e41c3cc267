package web

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"gritward/internal/names"
	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

func (s *site) rosterRoutes() {
	s.show("GET /clubs/{club}/rides/{ride}/rosters", (*visit).listRosters)
	s.show("GET /clubs/{club}/rides/{ride}/rosters/{number}", (*visit).showRoster)
	s.show("GET /clubs/{club}/rides/{ride}/rosters/{number}/fresh", (*visit).freshRoster)
	s.shareRoutes()
}

// issuesView are the issues of a ride's roster, the newest first.
type issuesView struct {
	Ride   *pb.Ride
	Issues []*pb.Roster
}

func (v *visit) listRosters() error {
	ride, err := v.rides.GetRide(v.ctx, &pb.GetRideRequest{Name: v.ride()})
	if err != nil {
		return err
	}
	listed, err := v.rides.ListRosters(v.ctx, &pb.ListRostersRequest{Parent: ride.Name})
	if err != nil {
		return err
	}
	slices.SortFunc(listed.Rosters, func(a, b *pb.Roster) int { return cmp.Compare(b.Number, a.Number) })
	return v.view("rosters", "Rosters of "+ride.Title, issuesView{ride, listed.Rosters})
}

// rosterView is what the page of an issue shows.
type rosterView struct {
	Roster *pb.Roster
	// Sheet is the issue in words and pictures.
	Sheet *render.RosterView
	Live  liveRoster
	Route *render.RoutePicture
	// Share is the link that opens the roster to others; nil on a page that is opened by it.
	Share *pb.RosterShare
	Leads bool
	// Unnamed: riders are named who agreed, and no others.
	Unnamed bool
}

// liveRoster says whether an issue is the newest, and as of when.
type liveRoster struct {
	Ride   *pb.Ride
	Number int32
	Made   string
	Since  []string
}

// Old tells whether there is a newer issue.
func (l liveRoster) Old() bool { return l.Number < l.Ride.GetRosterNumber() }

func (v *visit) showRoster() error {
	roster, live, err := v.issue()
	if err != nil {
		return err
	}
	view := rosterView{Roster: roster, Live: live, Leads: live.Ride.Leader == v.me() || v.has(pb.Role_SECRETARY)}
	if view.Sheet, err = v.sheetOf(roster, v.me()); err != nil {
		return err
	}
	if roster.GetRide().GetRoute().GetDigest() == live.Ride.GetRoute().GetDigest() {
		if view.Route, err = v.routeOf(roster.Ride, runningPlans(roster), true); err != nil {
			return err
		}
	}
	if view.Share, err = v.rides.GetRosterShare(v.ctx, &pb.GetRosterShareRequest{Parent: v.ride()}); err != nil {
		return err
	}
	if view.Route != nil && view.Route.Credit != "" {
		v.allowTiles()
	}
	return v.view("roster", view.Sheet.Title+": roster, issue "+strconv.Itoa(int(roster.Number)), view)
}

// runningPlans are the plans of the groups that run.
func runningPlans(roster *pb.Roster) (plans []*pb.GroupPlan) {
	for _, group := range roster.GetPlacement().GetGroups() {
		if group.Plan != nil {
			plans = append(plans, group.Plan)
		}
	}
	return plans
}

// issue is the issue that the path names, and how it stands to the ride.
func (v *visit) issue() (*pb.Roster, liveRoster, error) {
	none := liveRoster{}
	number := v.r.PathValue("number")
	if !names.ValidID(number) && number != names.Any {
		return nil, none, v.nowhere()
	}
	roster, err := v.rides.GetRoster(v.ctx, &pb.GetRosterRequest{Name: v.ride() + "/rosters/" + number})
	if err != nil {
		return nil, none, err
	}
	ride, err := v.rides.GetRide(v.ctx, &pb.GetRideRequest{Name: v.ride()})
	return roster, liveRoster{ride, roster.Number, v.watch().Local(v.Now()).Format("Monday 2 January, 15:04"), roster.Since}, err
}

// freshRoster says by itself whether an issue is the newest.
func (v *visit) freshRoster() error {
	roster, live, err := v.issue()
	if err != nil {
		return err
	}
	return v.part(http.StatusOK, "live roster", rosterView{Roster: roster, Live: live})
}

// under are the tiles that the club has set up to lie under a map.
func (s *site) under() render.Tiles {
	return render.Tiles{Address: s.TilesAddress, Credit: s.TilesCredit}
}

// allowTiles lets the page load pictures from where its tiles are, and from nowhere else.
func (v *visit) allowTiles() {
	at, err := url.Parse(v.TilesAddress)
	if err == nil {
		v.w.Header().Set("Content-Security-Policy", policyWithPictures(at.Scheme+"://"+at.Host))
	}
}
