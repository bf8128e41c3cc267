package cli

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/names"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

func (a *app) ride() *cobra.Command {
	group := &cobra.Command{
		Use: "ride", Short: "Plan, join, place and publish rides",
		Example: "  gritward ride list\n  gritward ride join 2026-12-13-moors --bike blue-winter-bike",
	}
	group.AddCommand(a.rideCreate(), a.rideList(), a.rideShow(), a.rideChange(), a.rideForecast(), a.ridePlan(), a.rideGPX(), a.rideJoin(),
		a.rideWithdraw(), a.rideGuest(), a.rideSignups(), a.ridePlace(), a.ridePin(), a.rideUnpin(), a.rideWhy(),
		a.ridePublish(), a.rideRoster(), a.rideSheets(), a.rideCalendar(), a.rideBrief(), a.rideLate(), a.rideLook(), a.rideMark(), a.rideRoll(), a.rideMarks(), a.rideStrike(), a.rideSync(),
		a.rideClose(), a.rideReopen(), a.rideContacts(),
		a.rideTimes(), a.rideWatch(), a.rideTold(), a.rideShare(), a.rideCallOff())
	return a.asGroup(group)
}

func (a *app) rideList() *cobra.Command {
	cmd := &cobra.Command{
		Use: "list", Short: "The club's rides: the next first, then past ones, newest first",
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
		nextFirst(rides, s.now())
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

// nextFirst puts the next ride first, those after it behind, and then past ones, newest first.
func nextFirst(rides []*pb.Ride, now time.Time) {
	past := func(ride *pb.Ride) bool { return rollcall.Past(ride, now) }
	slices.SortStableFunc(rides, func(a, b *pb.Ride) int {
		switch byStart := a.GetStartAt().AsTime().Compare(b.GetStartAt().AsTime()); {
		case past(a) != past(b):
			if past(a) {
				return 1
			}
			return -1
		case past(a):
			return -byStart
		default:
			return byStart
		}
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
		known, err := s.people()
		if err != nil {
			return err
		}
		passed, err := s.passed(ride)
		if err != nil {
			return err
		}
		stale := func(*page) {}
		if !s.over(ride) { // else no issue is published any more
			if stale, err = s.stale(ride.GetName()); err != nil {
				return err
			}
		}
		return a.answer(ride, func(p *page) {
			layRide(p, ride, zone, known)
			passed(p)
			stale(p)
		})
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

func layRide(p *page, ride *pb.Ride, zone *time.Location, known people) {
	places := "no limit"
	if ride.GetPlaces() > 0 {
		places = fmt.Sprint(ride.GetPlaces())
	}
	route := ride.GetRoute()
	roster := "not published"
	if ride.GetRosterNumber() > 0 {
		roster = fmt.Sprintf("issue %d", ride.GetRosterNumber())
	}
	fields := [][2]string{
		{"ride", names.Last(ride.GetName())},
		{"title", ride.GetTitle()},
		{"state", word(ride.GetState())},
		{"called off", ride.GetCallOffReason()},
		{"reason", ride.GetReason()},
		{"start", when(ride.GetStartAt(), zone) + " " + zone.String()},
		{"planned start", plannedWords(ride, zone)},
		{"meet", ride.GetMeetingPoint()},
		{"leader", leaderWords(ride, known)},
		{"route", strings.TrimSpace(fmt.Sprintf("%s, %.0f m of climbing  %s", km(route.GetDistanceM()),
			route.GetAscentM(), route.GetTitle()))},
		{"places", places},
		{"sign-up opens", when(ride.GetSignupOpensAt(), zone)},
		{"sign-up closes", when(ride.GetSignupClosesAt(), zone)},
		{"single file", yes(ride.GetSingleFile())},
		{"recorded times", recordedTimesWord(ride.GetRecordedTimes())},
		{"weather", weatherWords(ride.GetConditions().GetStart())},
	}
	for _, later := range ride.GetConditions().GetLater() {
		fields = append(fields, [2]string{"from " + laterWords(ride, later.GetFromLocal()), weatherWords(later.GetWeather())})
	}
	fields = append(fields, [2]string{"weather from", ride.GetConditions().GetSource()},
		[2]string{"forecast", forecastWords(ride.GetForecast(), zone)}, [2]string{"roster", roster})
	p.fields(fields...)
	p.line("")
	var rows [][]string
	for _, group := range ride.GetGroups() {
		rows = append(rows, []string{group.GetId(), group.GetTitle(), number(group.GetPaceKmh()) + " km/h",
			fmt.Sprintf("+%d min", group.GetStartOffsetMin()), groupSize(group), known.name(group.GetLeader()), known.name(group.GetBackMarker())})
	}
	p.table([]string{"group", "title", "pace", "starts", "riders", "leader", "back marker"}, rows)
	for _, group := range ride.GetGroups() {
		if set := figuresSet(group.GetSettings()); set != "" {
			p.line("%s is reckoned with %s.", group.GetId(), set)
		}
	}
	layPlaces(p, ride)
}

// plannedWords tells the start before it was put back on the day, and why it was; "" when it was not.
func plannedWords(ride *pb.Ride, zone *time.Location) string {
	words := ""
	for _, back := range ride.GetPutBacks() {
		if back.GetGroup() != "" {
			continue
		}
		if words == "" {
			words = when(back.GetFromAt(), zone) + ", put back"
		}
		if back.GetReason() != "" {
			words += ": " + back.GetReason()
		}
	}
	return words
}

// leaderWords tells who leads the ride, and the number to ring.
func leaderWords(ride *pb.Ride, known people) string {
	words := known.both(ride.GetLeader())
	if ride.GetLeaderPhone() != "" {
		words += ", telephone " + ride.GetLeaderPhone()
	}
	return words
}

// laterWords is the clock of a civil time, with its date where that is not the day of the start.
func laterWords(ride *pb.Ride, local string) string {
	day, clock, _ := strings.Cut(local, "T")
	if strings.HasPrefix(ride.GetStartLocal(), day) {
		return clock
	}
	return day + " " + clock
}

// groupSize tells how many riders a group takes; "" where the policy decides.
func groupSize(group *pb.Group) string {
	least, most := group.GetMinSize(), group.GetMaxSize()
	switch {
	case least > 0 && most > 0:
		return fmt.Sprintf("%d to %d", least, most)
	case least > 0:
		return fmt.Sprintf("%d or more", least)
	case most > 0:
		return fmt.Sprintf("up to %d", most)
	}
	return ""
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
