package render

import (
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// lightParts tell a group's light: how its start or home lies to dark, and the lights it needs. A ride from the dark into
// the day is told by its start, one by day or into the dark by its home.
func lightParts(p *pb.RidePlan, g *pb.GroupPlan, w phrase.Watch) (against, lights string) {
	switch {
	case !g.GetHomeAt().IsValid():
		return "", lightWords(g)
	case phrase.AllDark(g):
		return "dark all the way" + nearestSun(p, g, w), "lights for " + phrase.AtLeast(g.GetLitMin())
	case phrase.FromDark(p, g):
		var parts []string
		if before := phrase.BeforeLight(p, g); before != "" {
			parts = append(parts, "starts "+before)
		}
		if g.GetMarginMin() < 0 || phrase.HomeInDark(g) {
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
func lightTale(p *pb.RidePlan, g *pb.GroupPlan, w phrase.Watch) string {
	against, lights := lightParts(p, g, w)
	if against == "" {
		return lights
	}
	return against + "; " + lights
}

// startSentence is startWords as a sentence with a space before it; empty for nothing.
func startSentence(p *pb.RidePlan, g *pb.GroupPlan, w phrase.Watch) string {
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

// nearestSun names the sunrise after a ride in the dark, or the sunset before it.
func nearestSun(p *pb.RidePlan, g *pb.GroupPlan, w phrase.Watch) string {
	start, home := g.GetStartAt().AsTime(), g.GetHomeAt().AsTime()
	switch rise, set := p.GetSunriseAt(), p.GetSunsetAt(); {
	case rise.IsValid() && !rise.AsTime().Before(home):
		return ", sunrise " + w.Clock(rise)
	case set.IsValid() && !set.AsTime().After(start):
		return ", sunset " + w.Clock(set)
	}
	return ""
}

// litTimes tells when lights are lit: "until 09:14", "from 15:16", "all the way".
func litTimes(g *pb.GroupPlan, w phrase.Watch) string {
	var out []string
	for _, lit := range phrase.LitTimes(g) {
		from, to := "from "+w.Clock(lit.From), "until "+w.Clock(lit.To)
		switch {
		case lit.AtStart && lit.UntilIn:
			return "all the way"
		case lit.AtStart:
			out = append(out, to)
		case lit.UntilIn:
			out = append(out, from)
		default:
			out = append(out, from+" "+to)
		}
	}
	return strings.Join(out, " and ")
}

// startWords tell when a group may start for a ride in the light: name is "Start by", "Home in the light" where that is past
// the planned start, or "Without lights". Both are empty where nothing is known.
func startWords(p *pb.RidePlan, g *pb.GroupPlan, w phrase.Watch) (name, words string) {
	what, earliest, latest := phrase.StartInLight(p, g)
	home := w.Clock(latest) + " to be home " + phrase.Margin(p)
	switch what {
	case phrase.NeverUnlit:
		return "Without lights", "no start that day"
	case phrase.BetweenOnly:
		return "Without lights", "start between " + w.Clock(earliest) + " and " + w.Clock(latest)
	case phrase.StartTooLate:
		return "Home in the light", "it would have to start by " + home
	case phrase.StartUntilThen:
		return "Start by", home
	}
	return "", ""
}
