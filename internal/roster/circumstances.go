package roster

import (
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/daylight"
	"gritward/internal/pace"
	"gritward/internal/policy"
	"gritward/internal/weather"
	pb "gritward/proto/gritward/v1"
)

// circumstances decides which circumstances hold for a group on a ride.
func (p planner) circumstances(planned *pb.GroupPlan, timeline *pace.Timeline) error {
	start, home := timeline.Start(), timeline.Home()
	season, err := p.policy.InSeason(start, p.zone)
	if err != nil {
		return err
	}
	byTheSun, err := daylight.Of(timeline, darkRule(p.policy), nil)
	if err != nil {
		return err
	}
	facts := circumstanceFacts{season: season, dark: byTheSun.LitFor > 0}
	touched := during(p.spells, start, home)
	facts.dry = len(touched) > 0
	for _, s := range touched {
		risk, _ := s.weather.Ice()
		facts.ice = facts.ice || risk >= weather.Possible
		facts.wet = facts.wet || s.weather.Wet
		facts.dry = facts.dry && s.entered.Wet != nil && !s.weather.Wet
		facts.poor = facts.poor || s.weather.VisibilityM < p.policy.PoorVisibilityBelowM()
	}
	planned.Circumstances = facts.list()
	return nil
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
	season, err := p.InSeason(at.In(zone), zone)
	facts := circumstanceFacts{season: season, dark: litMin > 0, wet: wet, dry: !wet}
	return &pb.GroupPlan{
		StartAt: timestamppb.New(at), LitMin: litMin, Circumstances: facts.list()}, err
}
