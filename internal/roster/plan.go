package roster

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/daylight"
	"gritward/internal/pace"
	"gritward/internal/policy"
	"gritward/internal/route"
	"gritward/internal/sun"
	"gritward/internal/weather"
	pb "gritward/proto/gritward/v1"
)

// Plan reckons where each group of a ride is, when, in what light and weather. past are recorded times of the club's
// groups, each group's the latest first; those that do not bear on the ride are passed over.
func Plan(ride *pb.Ride, line *pb.RouteLine, p *policy.Policy, zone *time.Location, past []*pb.RecordedTime) (*pb.RidePlan, error) {
	planner, err := newPlanner(ride, line, p, zone, past)
	if err != nil {
		return nil, err
	}
	start, road, weathers := ride.StartAt.AsTime().In(zone), planner.line, planner.spells
	at := sun.Place{LatDeg: road.Points[0].LatDeg, LonDeg: road.Points[0].LonDeg}
	day, err := sun.On(start.Year(), start.Month(), start.Day(), zone, at)
	if err != nil {
		return nil, err
	}
	plan := &pb.RidePlan{
		Ride: ride.Name, PolicyDigest: p.Digest(),
		SunriseAt: stampOf(day.Sunrise), SunsetAt: stampOf(day.Sunset),
		CivilDawnAt: stampOf(day.CivilDawn), CivilDuskAt: stampOf(day.CivilDusk),
		Notes: slices.Clone(road.Notes), Margin: durationpb.New(p.Dark().Margin),
	}
	plan.DarkBeginsAt, plan.DarkEndsAt = darkOf(day, p.Dark().Begins)
	if weathers == nil {
		plan.Notes = append(plan.Notes,
			"No weather was entered: still, dry air and good visibility are assumed, rules for wet, ice and fog are not applied, and lamps are taken to last as long as declared, which the cold shortens. Enter the weather.")
	}
	if slices.ContainsFunc(weathers, func(s spell) bool { return s.known.WindKmh == nil }) {
		plan.Notes = append(plan.Notes, "No wind was entered: still air is assumed, and it feels colder when it blows.")
	}
	for _, group := range ride.Groups {
		planned, err := planner.group(group, planner.startOf(group))
		if err != nil {
			return nil, fmt.Errorf("group %s: %w", group.Id, err)
		}
		plan.Groups = append(plan.Groups, planned)
		for _, breach := range planner.breaches(planned) {
			if !slices.Contains(plan.CallOff, breach) {
				plan.CallOff = append(plan.CallOff, breach)
			}
		}
	}
	planner.tellWeather(plan)
	return plan, nil
}

// darkOf gives when dark begins in the evening and ends in the morning of a day.
func darkOf(day sun.Day, begins pb.Darkness_Begins) (evening, morning *timestamppb.Timestamp) {
	shift := time.Duration(0)
	switch begins {
	case pb.Darkness_CIVIL_DUSK:
		return stampOf(day.CivilDusk), stampOf(day.CivilDawn)
	case pb.Darkness_LIGHTING_UP:
		shift = 30 * time.Minute
	}
	if day.Sunset != nil {
		evening = timestamppb.New(day.Sunset.Add(shift))
	}
	if day.Sunrise != nil {
		morning = timestamppb.New(day.Sunrise.Add(-shift))
	}
	return evening, morning
}

// planner is what the plans of a ride's groups share.
type planner struct {
	ride   *pb.Ride
	line   *route.Route
	policy *policy.Policy
	zone   *time.Location
	spells []spell
	past   []*pb.RecordedTime
}

// newPlanner measures a ride's line again and reads its weather.
func newPlanner(ride *pb.Ride, line *pb.RouteLine, p *policy.Policy, zone *time.Location, past []*pb.RecordedTime) (*planner, error) {
	road, err := measured(line)
	if err != nil {
		return nil, err
	}
	weathers, err := spells(ride, ride.StartAt.AsTime().In(zone), zone)
	return &planner{ride: ride, line: road, policy: p, zone: zone, spells: weathers, past: past}, err
}

// startOf is when a group is planned to start.
func (p *planner) startOf(group *pb.Group) time.Time {
	return p.ride.StartAt.AsTime().In(p.zone).Add(time.Duration(group.StartOffsetMin) * time.Minute)
}

// timeline is a group's ride from a start, and what past rides tell of it.
func (p *planner) timeline(group *pb.Group, start time.Time) (*pace.Timeline, *pb.PastTimes, error) {
	var stops []pace.Stop
	for _, stop := range p.ride.Stops {
		stops = append(stops, pace.Stop{
			Name: stop.Title, AtM: stop.AtDistanceM, For: time.Duration(stop.Minutes) * time.Minute})
	}
	figures, err := params(group.Settings)
	if err != nil {
		return nil, nil, err
	}
	past := p.refine(group)
	timeline, err := p.timelines(pace.Group{PaceKmh: group.PaceKmh, Params: figures}, past, start, stops)
	return timeline, past, err
}

// group plans one group from a start.
func (p *planner) group(group *pb.Group, start time.Time) (*pb.GroupPlan, error) {
	timeline, past, err := p.timeline(group, start)
	if err != nil {
		return nil, err
	}
	return p.planOf(group, timeline, past)
}

// planOf is the plan of a group whose timeline is known, with what past rides tell of it.
func (p *planner) planOf(group *pb.Group, timeline *pace.Timeline, past *pb.PastTimes) (*pb.GroupPlan, error) {
	planned := &pb.GroupPlan{
		Group: group.Id, Title: titleOf(group), PaceKmh: group.PaceKmh,
		StartAt: timestamppb.New(timeline.Start()), HomeAt: timestamppb.New(timeline.Home()),
		RidingMin: p.ridingMin(timeline), DistanceM: p.line.DistanceM,
		Points: points(timeline, p.line, p.ride.Stops), PastTimes: past,
	}
	if err := p.light(planned, timeline); err != nil {
		return nil, err
	}
	p.weather(planned)
	return planned, p.circumstances(planned, timeline)
}

// light fills in the light of a group's timeline.
func (p *planner) light(planned *pb.GroupPlan, timeline *pace.Timeline) error {
	rule := darkRule(p.policy)
	profile, err := daylight.Of(timeline, rule, p.poorUntil(timeline.Home()))
	if err != nil {
		return err
	}
	planned.LitMin, planned.DarkMin = profile.LitFor.Minutes(), profile.DarkFor.Minutes()
	planned.FirstDarkAt = stampOf(profile.FirstDark)
	if profile.DarkAtFinish != nil {
		margin := profile.MarginToDark.Minutes()
		planned.MarginMin = &margin
	}
	for _, span := range profile.Spans {
		planned.Light = addSpan(planned.Light, &pb.LightSpan{
			FromAt: timestamppb.New(span.From), ToAt: timestamppb.New(span.To),
			Sky: skies[span.Sky], Dark: span.Dark, Lit: span.Lit,
		})
	}
	latest, ok, err := daylight.LatestHomeBy(timeline, rule, rule.Margin)
	if ok {
		planned.LatestStartAt = timestamppb.New(latest)
	}
	return err
}

// addSpan adds a span of light, joined to the one before where only standing still divides them.
func addSpan(spans []*pb.LightSpan, next *pb.LightSpan) []*pb.LightSpan {
	if len(spans) > 0 {
		last := spans[len(spans)-1]
		if last.Sky == next.Sky && last.Dark == next.Dark && last.Lit == next.Lit {
			last.ToAt = next.ToAt
			return spans
		}
	}
	return append(spans, next)
}

var skies = map[daylight.State]pb.LightSpan_Sky{
	daylight.Day: pb.LightSpan_DAY, daylight.Twilight: pb.LightSpan_TWILIGHT, daylight.Night: pb.LightSpan_NIGHT}

// weather fills in the extremes of the weather on a group's way.
func (p *planner) weather(planned *pb.GroupPlan) {
	for _, s := range during(p.spells, planned.StartAt.AsTime(), planned.HomeAt.AsTime()) {
		planned.TemperatureMinC = lower(planned.TemperatureMinC, s.weather.TempC)
		planned.FeelsLikeMinC = lower(planned.FeelsLikeMinC, s.weather.FeelsLikeC())
		planned.VisibilityMinM = lower(planned.VisibilityMinM, s.weather.VisibilityM)
		if risk, why := s.weather.Ice(); iceCautions[risk] > planned.Ice {
			planned.Ice, planned.IceWhy = iceCautions[risk], why
		}
		if gust := s.known.GustKmh; gust != nil && (planned.GustMaxKmh == nil || *gust > *planned.GustMaxKmh) {
			planned.GustMaxKmh = gust
		}
	}
}

var iceCautions = map[weather.IceRisk]pb.CallOff_Ice{
	weather.Possible: pb.CallOff_POSSIBLE, weather.Likely: pb.CallOff_LIKELY}

func lower(least *float64, value float64) *float64 {
	if math.IsNaN(value) || least != nil && *least <= value {
		return least
	}
	return &value
}

// breaches says which call-off limits the weather on a group's way breaks.
func (p *planner) breaches(planned *pb.GroupPlan) []string {
	var said []string
	for _, s := range during(p.spells, planned.StartAt.AsTime(), planned.HomeAt.AsTime()) {
		for _, breach := range limits(p.policy.CallOff()).Breaches(s.weather) {
			said = append(said, breach.String())
		}
	}
	return said
}

// darkRule is a policy's definition of dark.
func darkRule(p *policy.Policy) daylight.Rule {
	begins := map[pb.Darkness_Begins]daylight.Begins{
		pb.Darkness_SUNSET: daylight.Sunset, pb.Darkness_LIGHTING_UP: daylight.LightingUp, pb.Darkness_CIVIL_DUSK: daylight.CivilDusk}
	return daylight.Rule{Begins: begins[p.Dark().Begins], Margin: p.Dark().Margin}
}

// titleOf is what a group is called: its title, or its id as a word: "Brisk" for "brisk".
func titleOf(group *pb.Group) string {
	if group.Title != "" {
		return group.Title
	}
	return strings.ToUpper(group.Id[:1]) + strings.ReplaceAll(group.Id[1:], "-", " ")
}

func stampOf(at *time.Time) *timestamppb.Timestamp {
	if at == nil {
		return nil
	}
	return timestamppb.New(*at)
}
