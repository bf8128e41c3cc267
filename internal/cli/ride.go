package cli

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

func (a *app) ride() *cobra.Command {
	group := &cobra.Command{
		Use: "ride", Short: "Plan, join, place and publish rides",
		Example: "  gritward ride list\n  gritward ride join 2026-12-13-moors --bike blue-winter-bike",
	}
	group.AddCommand(a.rideCreate(), a.rideList(), a.rideShow(), a.rideChange(), a.ridePlan(), a.rideJoin(),
		a.rideWithdraw(), a.rideSignups(), a.ridePlace(), a.ridePublish(), a.rideRoster(), a.rideBrief(), a.rideCallOff())
	return a.asGroup(group)
}

func (a *app) rideList() *cobra.Command {
	cmd := &cobra.Command{
		Use: "list", Short: "The club's rides, latest start first",
		Example: "  gritward ride list", Args: cobra.NoArgs,
	}
	return a.online(cmd, func(s *session, _ []string) error {
		zone, err := s.zone()
		if err != nil {
			return err
		}
		rides, err := allPages(func(token string) ([]*pb.Ride, string, error) {
			answer, err := s.rides.ListRides(s.ctx,
				&pb.ListRidesRequest{Parent: s.clubName(), PageSize: pageSize, PageToken: token})
			return answer.GetRides(), answer.GetNextPageToken(), err
		})
		if err != nil {
			return err
		}
		return a.answer(&pb.ListRidesResponse{Rides: rides}, func(p *page) {
			var rows [][]string
			for _, ride := range rides {
				rows = append(rows, []string{names.Last(ride.GetName()), when(ride.GetStartAt(), zone), ride.GetTitle(),
					km(ride.GetRoute().GetDistanceM()), fmt.Sprint(len(ride.GetGroups())), word(ride.GetState())})
			}
			p.list("no rides yet", []string{"ride", "start", "title", "route", "groups", "state"}, rows)
		})
	})
}

func (a *app) rideShow() *cobra.Command {
	cmd := &cobra.Command{
		Use: "show RIDE", Short: "A ride as its leader planned it",
		Example: "  gritward ride show 2026-12-13-moors", Args: cobra.ExactArgs(1),
	}
	return a.online(cmd, func(s *session, args []string) error {
		zone, err := s.zone()
		if err != nil {
			return err
		}
		ride, err := s.getRide(args[0])
		if err != nil {
			return err
		}
		return a.answer(ride, func(p *page) { layRide(p, ride, zone) })
	})
}

// getRide reads a ride; when there is none of that id it names the newest that there are.
func (s *session) getRide(ref string) (*pb.Ride, error) {
	name, err := s.rideName(ref)
	if err != nil {
		return nil, err
	}
	ride, err := s.rides.GetRide(s.ctx, &pb.GetRideRequest{Name: name})
	return ride, s.withRides(err)
}

func layRide(p *page, ride *pb.Ride, zone *time.Location) {
	places := "no limit"
	if ride.GetPlaces() > 0 {
		places = fmt.Sprint(ride.GetPlaces())
	}
	route := ride.GetRoute()
	roster := "not published"
	if ride.GetRosterNumber() > 0 {
		roster = fmt.Sprintf("issue %d", ride.GetRosterNumber())
	}
	p.fields(
		[2]string{"ride", names.Last(ride.GetName())},
		[2]string{"title", ride.GetTitle()},
		[2]string{"state", word(ride.GetState())},
		[2]string{"reason", ride.GetReason()},
		[2]string{"start", when(ride.GetStartAt(), zone) + " " + zone.String()},
		[2]string{"meet", ride.GetMeetingPoint()},
		[2]string{"leader", strings.TrimSpace(names.Last(ride.GetLeader()) + "  " + ride.GetLeaderPhone())},
		[2]string{"route", strings.TrimSpace(fmt.Sprintf("%s, %.0f m of climbing  %s", km(route.GetDistanceM()),
			route.GetAscentM(), route.GetTitle()))},
		[2]string{"places", places},
		[2]string{"sign-up closes", when(ride.GetSignupClosesAt(), zone)},
		[2]string{"single file", yes(ride.GetSingleFile())},
		[2]string{"weather", weatherWords(ride.GetConditions().GetStart())},
		[2]string{"weather from", ride.GetConditions().GetSource()},
		[2]string{"roster", roster},
	)
	p.line("")
	var rows [][]string
	for _, group := range ride.GetGroups() {
		rows = append(rows, []string{group.GetId(), group.GetTitle(), number(group.GetPaceKmh()) + " km/h",
			fmt.Sprintf("+%d min", group.GetStartOffsetMin()), names.Last(group.GetLeader()), names.Last(group.GetBackMarker())})
	}
	p.table([]string{"group", "title", "pace", "starts", "leader", "back marker"}, rows)
	layPlaces(p, ride)
}

func layPlaces(p *page, ride *pb.Ride) {
	var rows [][]string
	for _, stop := range ride.GetStops() {
		rows = append(rows, []string{km(stop.GetAtDistanceM()), "stop", fmt.Sprintf("%s, %d min", stop.GetTitle(), stop.GetMinutes())})
	}
	for _, note := range ride.GetHazards() {
		rows = append(rows, []string{km(note.GetAtDistanceM()), "hazard", note.GetWhat()})
	}
	for _, note := range ride.GetWaysOut() {
		rows = append(rows, []string{km(note.GetAtDistanceM()), "way out", note.GetWhat()})
	}
	if len(rows) > 0 {
		p.line("")
		p.table([]string{"at", "", "what"}, rows)
	}
	for _, note := range ride.GetRoute().GetNotes() {
		p.line("Note: %s", note)
	}
}

// weatherWords tells what is known of the weather on one line.
func weatherWords(w *pb.Weather) string {
	var parts []string
	add := func(value *float64, unit string) {
		if value != nil {
			parts = append(parts, number(*value)+unit)
		}
	}
	if w == nil {
		return ""
	}
	add(w.TemperatureC, " C")
	add(w.WindKmh, " km/h wind")
	add(w.WindFromDeg, " degrees")
	add(w.GustKmh, " km/h gusts")
	add(w.HumidityPct, " % humidity")
	add(w.VisibilityM, " m visibility")
	for _, sign := range []struct {
		value *bool
		yes   string
		no    string
	}{{w.Wet, "wet", "dry"}, {w.RecentlyWet, "wet before", "dry before"}, {w.ClearSky, "clear sky", "cloud"}} {
		if sign.value == nil {
			continue
		}
		if *sign.value {
			parts = append(parts, sign.yes)
		} else {
			parts = append(parts, sign.no)
		}
	}
	return strings.Join(parts, ", ")
}
