package roster

import (
	"fmt"
	"math"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/civil"
	"gritward/internal/pace"
	pb "gritward/proto/gritward/v1"
)

// paceApartKmh is how far the pace of a past ride may be from the coming one's: a group of the same id that has become
// another one says nothing. Ours.
const paceApartKmh = 2.0

// PastReach says how far back recorded times are wanted for the plan of a ride: at most so many of each group, the
// latest before the day of the ride.
const PastReach = 3 * pace.MaxPastRides

// usesRecorded tells whether a ride's plan is reckoned with recorded times: as the ride says, else as the policy does;
// not without a policy.
func (p *planner) usesRecorded() bool {
	said := p.ride.RecordedTimes
	if said == pb.PaceReckoning_RECORDED_UNSPECIFIED && p.policy != nil {
		said = p.policy.RecordedTimes()
	}
	return said == pb.PaceReckoning_USE
}

// LeftOut says in a few words why a recorded time says nothing about its group; "" where it does.
func LeftOut(one *pb.RecordedTime) string { return pastRide(one).LeftOut() }

func pastRide(one *pb.RecordedTime) pace.PastRide {
	return pace.PastRide{Start: one.StartAt.AsTime(), Planned: minutes(one.PlannedMin), Took: minutes(one.TookMin)}
}

// refine finds what past rides tell of a group's times: those of the group of the same id, at nearly its pace, before
// the day of the ride. nil when none does and none is asked for.
func (p *planner) refine(group *pb.Group) *pb.PastTimes {
	start := p.ride.StartAt.AsTime().In(p.zone)
	var rides []pace.PastRide
	var recorded []*pb.RecordedTime
	for _, one := range p.past {
		if one.Group != group.Id || one.Ride == p.ride.Name || one.Day >= start.Format(civil.DateLayout) ||
			!(math.Abs(one.PaceKmh-group.PaceKmh) <= paceApartKmh) {
			continue
		}
		rides = append(rides, pastRide(one))
		recorded = append(recorded, one)
	}
	found := pace.Refine(rides, start)
	if len(found.Rests) == 0 && !p.usesRecorded() {
		return nil
	}
	past := &pb.PastTimes{
		Used: p.usesRecorded() && found.Enough(), TimeFactor: found.TimeFactor, FoundFactor: found.Found,
		RidesNeeded: pace.MinPastRides,
	}
	for _, i := range found.Rests {
		past.RestsOn = append(past.RestsOn, recorded[i])
	}
	past.Words = restsWords(past, start)
	return past
}

func minutes(min float64) time.Duration { return time.Duration(min * float64(time.Minute)) }

// restsWords says on what a time factor rests.
func restsWords(past *pb.PastTimes, start time.Time) string {
	rides := len(past.RestsOn)
	if rides < int(past.RidesNeeded) {
		return fmt.Sprintf("not enough rides recorded: %d of %d", rides, past.RidesNeeded)
	}
	since := past.RestsOn[rides-1].Day
	if first, err := time.Parse(civil.DateLayout, since); err == nil {
		since = first.Format("2 Jan")
		if first.Year() != start.Year() {
			since = first.Format("2 Jan 2006")
		}
	}
	words := fmt.Sprintf("%d rides since %s: %s", rides, since, slower(past.FoundFactor))
	if past.TimeFactor != past.FoundFactor {
		words += fmt.Sprintf(", reckoned as %.0f %%, the most allowed", 100*math.Abs(past.TimeFactor-1))
	}
	return words
}

// slower tells a time factor in words.
func slower(factor float64) string {
	switch percent := math.Round(100 * (factor - 1)); {
	case percent > 0:
		return fmt.Sprintf("%.0f %% slower than planned", percent)
	case percent < 0:
		return fmt.Sprintf("%.0f %% quicker than planned", -percent)
	}
	return "as planned"
}

// timelines reckons a group by pace alone and as its past rides tell, and gives the one that the plan goes by. It fills
// in both in past, which may be nil.
func (p *planner) timelines(group pace.Group, past *pb.PastTimes, start time.Time, stops []pace.Stop) (*pace.Timeline, error) {
	plain, err := pace.Plan(p.line, group, start, stops, airs(p.spells))
	if err != nil || past == nil {
		return plain, err
	}
	refined := plain
	if group.TimeFactor = past.TimeFactor; group.TimeFactor != 1 {
		if refined, err = pace.Plan(p.line, group, start, stops, airs(p.spells)); err != nil {
			return nil, err
		}
	}
	past.ByPaceMin, past.ByPaceHomeAt = p.ridingMin(plain), timestamppb.New(plain.Home())
	past.RefinedMin, past.RefinedHomeAt = p.ridingMin(refined), timestamppb.New(refined.Home())
	if past.Used {
		return refined, nil
	}
	return plain, nil
}

// ridingMin is a timeline's riding time without the ride's stops, min.
func (p *planner) ridingMin(timeline *pace.Timeline) float64 {
	riding := timeline.Home().Sub(timeline.Start())
	for _, stop := range p.ride.Stops {
		riding -= time.Duration(stop.Minutes) * time.Minute
	}
	return riding.Minutes()
}
