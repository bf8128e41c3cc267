package roster

import (
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/civil"
	"gritward/internal/daylight"
	"gritward/internal/pace"
	"gritward/internal/policy"
	"gritward/internal/weather"
	pb "gritward/proto/gritward/v1"
)

// circumstances decides which circumstances hold for a group on a ride.
func (p *planner) circumstances(planned *pb.GroupPlan, timeline *pace.Timeline) error {
	_, byTheSun, err := daylight.Lit(timeline, 0, darkRule(p.policy), nil)
	if err != nil {
		return err
	}
	season, err := seasonFrom(p.policy, timeline.Start(), p.zone)
	if err != nil {
		return err
	}
	p.circumstancesOf(planned, timeline.Start(), timeline.Home(), season, byTheSun > 0)
	return nil
}

func (p *planner) circumstancesOf(planned *pb.GroupPlan, start, home time.Time, season string, dark bool) {
	planned.SeasonFrom = season
	facts := circumstanceFacts{season: season != "", dark: dark}
	touched := during(p.spells, start, home)
	facts.dry = len(touched) > 0
	for _, s := range touched {
		risk, _ := s.weather.Ice()
		facts.ice = facts.ice || risk >= weather.Possible
		facts.wet = facts.wet || s.weather.Wet
		facts.dry = facts.dry && s.known.Wet != nil && !s.weather.Wet
		facts.poor = facts.poor || s.weather.VisibilityM < p.policy.PoorVisibilityBelowM()
	}
	planned.Circumstances = facts.list()
}

// poorUntil are the stretches of poor visibility that count for a group that is home then.
func (p *planner) poorUntil(home time.Time) []daylight.Interval {
	return poor(p.spells, p.policy.PoorVisibilityBelowM(), home.Add(24*time.Hour))
}

// seasonFrom is the first day of the season that an instant lies in, YYYY-MM-DD; "" outside the season. It goes back in
// strides, then in smaller ones; a season of the whole year ends the search after a year.
func seasonFrom(p *policy.Policy, at time.Time, zone *time.Location) (string, error) {
	first := at.In(zone)
	if in, err := p.InSeason(first, zone); err != nil || !in {
		return "", err
	}
	for _, stride := range []int{16, 4, 1} {
		for first.After(at.AddDate(-1, 0, 0)) {
			before := first.AddDate(0, 0, -stride)
			in, err := p.InSeason(before, zone)
			if err != nil {
				return "", err
			}
			if !in {
				break
			}
			first = before
		}
	}
	return first.Format(civil.DateLayout), nil
}

// circumstanceFacts says which circumstances hold.
type circumstanceFacts struct{ season, dark, poor, wet, dry, ice bool }

// list gives the circumstances that hold, ALWAYS first.
func (f circumstanceFacts) list() []pb.Circumstance {
	held := []pb.Circumstance{pb.Circumstance_ALWAYS}
	for _, fact := range []struct {
		holds bool
		is    pb.Circumstance
	}{
		{f.season, pb.Circumstance_SEASON}, {f.dark, pb.Circumstance_DARK}, {f.poor, pb.Circumstance_POOR_VISIBILITY},
		{f.wet, pb.Circumstance_WET}, {f.dry, pb.Circumstance_DRY}, {f.ice, pb.Circumstance_ICE},
	} {
		if fact.holds {
			held = append(held, fact.is)
		}
	}
	return held
}

// Day is the plan of a day without a ride, for assessing a bike: its season, the minutes for which lights are needed,
// a wet road or a dry one.
func Day(p *policy.Policy, zone *time.Location, at time.Time, litMin float64, wet bool) (*pb.GroupPlan, error) {
	from, err := seasonFrom(p, at, zone)
	facts := circumstanceFacts{season: from != "", dark: litMin > 0, wet: wet, dry: !wet}
	return &pb.GroupPlan{
		StartAt: timestamppb.New(at), LitMin: litMin, Circumstances: facts.list(), SeasonFrom: from}, err
}
