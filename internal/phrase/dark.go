package phrase

import (
	"math"
	"slices"
	"time"

	pb "gritward/proto/gritward/v1"

	"google.golang.org/protobuf/types/known/timestamppb"
)

// AllDark tells whether a group rides in the dark from start to home.
func AllDark(g *pb.GroupPlan) bool {
	return len(g.GetLight()) > 0 && !slices.ContainsFunc(g.GetLight(), func(l *pb.LightSpan) bool { return !l.GetDark() })
}

// HomeInDark tells whether the last of a group's light is dark.
func HomeInDark(g *pb.GroupPlan) bool {
	n := len(g.GetLight())
	return n > 0 && g.GetLight()[n-1].GetDark()
}

// LightsOut is when lights can go out in the morning: the policy's margin after dark ends, at the route's start.
func LightsOut(p *pb.RidePlan) time.Time {
	return p.GetDarkEndsAt().AsTime().Add(p.GetMargin().AsDuration())
}

// FromDark tells whether a group starts before lights can go out in the morning.
func FromDark(p *pb.RidePlan, g *pb.GroupPlan) bool {
	return len(g.GetLight()) > 0 && g.GetLight()[0].GetLit() && p.GetDarkEndsAt().IsValid() && g.GetStartAt().IsValid() &&
		g.GetStartAt().AsTime().Before(LightsOut(p))
}

// BeforeLight tells how long before sunrise, or before dark ends, a group starts, reckoned from the times as told: "12 min
// before sunrise"; empty where it does not.
func BeforeLight(p *pb.RidePlan, g *pb.GroupPlan) string {
	start := g.GetStartAt().AsTime().Truncate(time.Minute)
	for _, e := range []struct {
		at   *timestamppb.Timestamp
		name string
	}{{p.GetSunriseAt(), "sunrise"}, {p.GetDarkEndsAt(), "dark ends"}} {
		if e.at.IsValid() && e.at.AsTime().Truncate(time.Minute).After(start) {
			return Span(e.at.AsTime().Truncate(time.Minute).Sub(start).Minutes()) + " before " + e.name
		}
	}
	return ""
}

// Lit is a time for which a group's lights are lit.
type Lit struct {
	From, To         *timestamppb.Timestamp
	AtStart, UntilIn bool // from the start of the ride, until home
}

// LitTimes are the times for which a group's lights are lit, in order.
func LitTimes(g *pb.GroupPlan) []Lit {
	var out []Lit
	spans := g.GetLight()
	for i := 0; i < len(spans); i++ {
		if !spans[i].GetLit() {
			continue
		}
		first := i
		for i+1 < len(spans) && spans[i+1].GetLit() {
			i++
		}
		out = append(out, Lit{spans[first].GetFromAt(), spans[i].GetToAt(), first == 0, i == len(spans)-1})
	}
	return out
}

// Start is when a group may start for a ride in the light.
type Start int

// What there is to say of it.
const (
	NoStart        Start = iota // no start of that day is home the policy's margin before dark, or none is needed
	NeverUnlit                  // no start of that day does without lights
	BetweenOnly                 // without lights only between two times
	StartTooLate                // the planned start is later than the latest
	StartUntilThen              // until the latest
	StartInDark                 // the ride is planned for after dark: there is nothing to be said of a start in the light
)

// StartInLight tells when a group may start for a ride in the light: from earliest, up to the full minute, and until
// latest. Only BetweenOnly has an earliest.
func StartInLight(p *pb.RidePlan, g *pb.GroupPlan) (what Start, earliest, latest *timestamppb.Timestamp) {
	latest = g.GetLatestStartAt()
	if !latest.IsValid() {
		return NoStart, nil, nil
	}
	// In poor visibility lights are lit at any hour, so that no start does without.
	poor := slices.Contains(g.GetCircumstances(), pb.Circumstance_POOR_VISIBILITY)
	if p.GetDarkEndsAt().IsValid() && !poor {
		from := LightsOut(p).Add(time.Minute - 1).Truncate(time.Minute) // the careful side
		if from.After(latest.AsTime()) {
			return NeverUnlit, nil, latest
		}
		if FromDark(p, g) {
			return BetweenOnly, timestamppb.New(from), latest
		}
	}
	if latest.AsTime().Before(g.GetStartAt().AsTime()) {
		if AllDark(g) {
			return StartInDark, nil, nil
		}
		return StartTooLate, nil, latest
	}
	return StartUntilThen, nil, latest
}

// Margin is the policy's margin before dark: "30 min before dark".
func Margin(p *pb.RidePlan) string {
	switch margin := p.GetMargin(); {
	case margin == nil:
		return "with the club's margin before dark"
	case margin.AsDuration() <= 0:
		return "before dark"
	default:
		return AtLeast(margin.AsDuration().Minutes()) + " before dark"
	}
}

// DarkMin is how long a group rides in the dark, in minutes, for words. One that rides into the dark and stays in it is home as long after
// dark begins as it rides in it: what is told of both is one figure, the greater. They are reckoned at different places of the route,
// so that they are less than sameMin apart.
func DarkMin(p *pb.GroupPlan) float64 {
	if late := -p.GetMarginMin(); p.MarginMin != nil && late > 0 && math.Abs(late-p.GetDarkMin()) < sameMin {
		return max(late, p.GetDarkMin())
	}
	return p.GetDarkMin()
}

// AfterDark is how long after dark begins a group is home, as in DarkMin: "39 min".
func AfterDark(p *pb.GroupPlan) string {
	if late := -p.GetMarginMin(); math.Abs(late-p.GetDarkMin()) >= sameMin {
		return AtLeast(late)
	}
	return AtLeast(DarkMin(p))
}

// sameMin is how far apart two reckonings of the same minutes may lie.
const sameMin = 2
