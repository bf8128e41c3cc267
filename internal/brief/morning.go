package brief

import (
	"math"
	"slices"
	"time"

	pb "gritward/proto/gritward/v1"

	"google.golang.org/protobuf/types/known/timestamppb"
)

func allDark(p *pb.GroupPlan) bool {
	return len(p.GetLight()) > 0 && !slices.ContainsFunc(p.GetLight(), func(l *pb.LightSpan) bool { return !l.GetDark() })
}

// lightsOut is when lights can go out in the morning: the policy's margin after dark ends, at the route's start.
func (t *teller) lightsOut() time.Time {
	return t.r.GetPlan().GetDarkEndsAt().AsTime().Add(t.r.GetPlan().GetMargin().AsDuration())
}

// fromDark tells whether a group starts before lights can go out in the morning.
func (t *teller) fromDark(p *pb.GroupPlan) bool {
	return len(p.GetLight()) > 0 && p.GetLight()[0].GetLit() && t.r.GetPlan().GetDarkEndsAt().IsValid() &&
		p.GetStartAt().IsValid() && p.GetStartAt().AsTime().Before(t.lightsOut())
}

// dawn is the first light, where any group starts before the morning's lights go out.
func (t *teller) dawn() *timestamppb.Timestamp {
	if slices.ContainsFunc(t.groups, func(g group) bool { return t.fromDark(g.plan) }) {
		return t.r.GetPlan().GetCivilDawnAt()
	}
	return nil
}

// beforeLight tells how long before sunrise, or before dark ends, a group starts, reckoned from the times as told.
func (t *teller) beforeLight(p *pb.GroupPlan) string {
	start := p.GetStartAt().AsTime().Truncate(time.Minute)
	for _, e := range []struct {
		at   *timestamppb.Timestamp
		name string
	}{{t.r.GetPlan().GetSunriseAt(), "sunrise"}, {t.r.GetPlan().GetDarkEndsAt(), "dark ends"}} {
		if e.at.IsValid() && e.at.AsTime().Truncate(time.Minute).After(start) {
			return span(e.at.AsTime().Truncate(time.Minute).Sub(start).Minutes()) + " before " + e.name
		}
	}
	return ""
}

// startTimes tells when a group may start for a ride in the light; empty where that is not known or does not matter.
func (t *teller) startTimes(p *pb.GroupPlan) string {
	latest, neverDark := p.GetLatestStartAt(), p.MarginMin == nil && p.GetDarkMin() <= 0
	if !latest.IsValid() {
		if neverDark {
			return ""
		}
		return "No start that day brings it home " + t.margin() + "."
	}
	// In poor visibility lights are lit at any hour, so that no start does without.
	poor := slices.Contains(p.GetCircumstances(), pb.Circumstance_POOR_VISIBILITY)
	if t.r.GetPlan().GetDarkEndsAt().IsValid() && !poor {
		// Up to the full minute: the careful side.
		earliest := t.lightsOut().Add(time.Minute - 1).Truncate(time.Minute)
		if earliest.After(latest.AsTime()) {
			return "No start that day does without lights."
		}
		if t.fromDark(p) {
			return "Without lights it would have to start between " + t.clock(timestamppb.New(earliest)) + " and " + t.clock(latest) + "."
		}
	}
	if latest.AsTime().Before(p.GetStartAt().AsTime()) {
		return "It would have to start by " + t.clock(latest) + " to be home " + t.margin() + "."
	}
	return "Start by " + t.clock(latest) + " to be home " + t.margin() + "."
}

// margin is the policy's margin before dark.
func (t *teller) margin() string {
	switch margin := t.r.GetPlan().GetMargin(); {
	case margin == nil:
		return "with the club's margin before dark"
	case margin.AsDuration() <= 0:
		return "before dark"
	default:
		return span(math.Ceil(margin.AsDuration().Minutes())) + " before dark"
	}
}
