package render

import (
	"slices"
	"strings"
	"time"

	pb "gritward/proto/gritward/v1"

	"google.golang.org/protobuf/types/known/timestamppb"
)

// lightParts tell a group's light: how its start or home lies to dark, and the lights it needs. A ride from the dark into
// the day is told by its start, one by day or into the dark by its home.
func lightParts(p *pb.RidePlan, g *pb.GroupPlan, w watch) (against, lights string) {
	switch {
	case !g.GetHomeAt().IsValid():
		return "", lightWords(g)
	case allDark(g):
		return "dark all the way" + w.nearestSun(p, g), "lights for " + atLeast(g.GetLitMin())
	case fromDark(p, g):
		var parts []string
		if before := beforeLight(p, g); before != "" {
			parts = append(parts, "starts "+before)
		}
		if g.GetMarginMin() < 0 || homeInDark(g) {
			parts = append(parts, "home "+againstDark(g))
		}
		return strings.Join(parts, ", "), "lights " + litTimes(g, w) + " (" + amount(g) + ")"
	}
	if against = againstDark(g); against != "" {
		against = "home " + against
	}
	return against, lightWords(g)
}

// lightTale is both parts in a row.
func lightTale(p *pb.RidePlan, g *pb.GroupPlan, w watch) string {
	against, lights := lightParts(p, g, w)
	if against == "" {
		return lights
	}
	return against + "; " + lights
}

func allDark(g *pb.GroupPlan) bool {
	return len(g.GetLight()) > 0 && !slices.ContainsFunc(g.GetLight(), func(l *pb.LightSpan) bool { return !l.GetDark() })
}

// fromDark tells whether a group starts before lights can go out in the morning.
func fromDark(p *pb.RidePlan, g *pb.GroupPlan) bool {
	return len(g.GetLight()) > 0 && g.GetLight()[0].GetLit() && p.GetDarkEndsAt().IsValid() && g.GetStartAt().IsValid() &&
		g.GetStartAt().AsTime().Before(lightsOut(p))
}

// lightsOut is when lights can go out in the morning: the policy's margin after dark ends, at the route's start.
func lightsOut(p *pb.RidePlan) time.Time {
	return p.GetDarkEndsAt().AsTime().Add(p.GetMargin().AsDuration())
}

// nearestSun names the sunrise after a ride in the dark, or the sunset before it.
func (w watch) nearestSun(p *pb.RidePlan, g *pb.GroupPlan) string {
	start, home := g.GetStartAt().AsTime(), g.GetHomeAt().AsTime()
	switch rise, set := p.GetSunriseAt(), p.GetSunsetAt(); {
	case rise.IsValid() && !rise.AsTime().Before(home):
		return ", sunrise " + w.clock(rise)
	case set.IsValid() && !set.AsTime().After(start):
		return ", sunset " + w.clock(set)
	}
	return ""
}

// beforeLight tells how long before sunrise, or before dark ends, a group starts, reckoned from the times as told.
func beforeLight(p *pb.RidePlan, g *pb.GroupPlan) string {
	start := g.GetStartAt().AsTime().Truncate(time.Minute)
	for _, e := range []struct {
		at   *timestamppb.Timestamp
		name string
	}{{p.GetSunriseAt(), "sunrise"}, {p.GetDarkEndsAt(), "dark ends"}} {
		if e.at.IsValid() && e.at.AsTime().Truncate(time.Minute).After(start) {
			return span(e.at.AsTime().Truncate(time.Minute).Sub(start).Minutes()) + " before " + e.name
		}
	}
	return ""
}

// litTimes tells when lights are lit: "until 09:14", "from 15:16", "all the way".
func litTimes(g *pb.GroupPlan, w watch) string {
	var out []string
	spans := g.GetLight()
	for i := 0; i < len(spans); i++ {
		if !spans[i].GetLit() {
			continue
		}
		first := i
		for i+1 < len(spans) && spans[i+1].GetLit() {
			i++
		}
		from, to := "from "+w.clock(spans[first].GetFromAt()), "until "+w.clock(spans[i].GetToAt())
		switch last := len(spans) - 1; {
		case first == 0 && i == last:
			return "all the way"
		case first == 0:
			out = append(out, to)
		case i == last:
			out = append(out, from)
		default:
			out = append(out, from+" "+to)
		}
	}
	return strings.Join(out, " and ")
}

// startWords tell when a group may start for a ride in the light: name is "Start by", "Home in the light" where that is past
// the planned start, or "Without lights". Both are empty
// where nothing is known.
func startWords(p *pb.RidePlan, g *pb.GroupPlan, w watch) (name, words string) {
	if !g.GetLatestStartAt().IsValid() {
		return "", ""
	}
	latest := g.GetLatestStartAt().AsTime()
	// In poor visibility lights are lit at any hour, so that no start does without.
	poor := slices.Contains(g.GetCircumstances(), pb.Circumstance_POOR_VISIBILITY)
	if p.GetDarkEndsAt().IsValid() && !poor {
		// Up to the full minute: the careful side.
		earliest := lightsOut(p).Add(time.Minute - 1).Truncate(time.Minute)
		if earliest.After(latest) {
			return "Without lights", "no start that day"
		}
		if fromDark(p, g) {
			return "Without lights", "start between " + w.clock(timestamppb.New(earliest)) + " and " + w.clock(g.GetLatestStartAt())
		}
	}
	words = w.clock(g.GetLatestStartAt()) + " to be home " + marginWords(p)
	if latest.Before(g.GetStartAt().AsTime()) {
		return "Home in the light", "it would have to start by " + words
	}
	return "Start by", words
}

// marginWords is the policy's margin before dark.
func marginWords(p *pb.RidePlan) string {
	switch margin := p.GetMargin(); {
	case margin == nil:
		return "with the club's margin before dark"
	case margin.AsDuration() <= 0:
		return "before dark"
	default:
		return atLeast(margin.AsDuration().Minutes()) + " before dark"
	}
}

// startSentence is startWords as a sentence with a space before it; empty for nothing.
func startSentence(p *pb.RidePlan, g *pb.GroupPlan, w watch) string {
	name, words := startWords(p, g, w)
	switch name {
	case "":
		return ""
	case "Start by":
		return " " + name + " " + words + "."
	case "Home in the light":
		return " " + upper(words) + "."
	}
	return " " + name + ": " + words + "."
}
