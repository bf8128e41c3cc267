package brief

import (
	"fmt"
	"math"
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"

	"google.golang.org/protobuf/types/known/timestamppb"
)

func (t *teller) daylight() *section {
	s := &section{id: "daylight", title: "Daylight"}
	s.lines = append(s.lines, t.sun())
	for _, g := range t.groups {
		if g.plan.GetDarkMin() > 0 {
			s.alert("%s rides %s in the dark: lights lit %s.", g.title, phrase.AtLeast(phrase.DarkMin(g.plan)), t.litTimes(g.plan))
		}
		s.lines = append(s.lines, t.groupLight(g))
		t.startLimit(s, g)
	}
	s.say("Hills, trees and cloud are not reckoned: it can be dark sooner.")
	return s
}

func (t *teller) sun() string {
	p := t.r.GetPlan()
	var parts []string
	for _, e := range []struct {
		what string
		at   *timestamppb.Timestamp
	}{{"first light at", t.dawn()}, {"sunrise at", p.GetSunriseAt()}, {"sunset at", p.GetSunsetAt()}, {"the last of the twilight at", p.GetCivilDuskAt()}} {
		if e.at.IsValid() {
			parts = append(parts, e.what+" "+t.clock(e.at))
		}
	}
	if len(parts) > 0 {
		return phrase.Sentence(phrase.List(parts))
	}
	for _, g := range p.GetGroups() {
		for _, light := range g.GetLight() {
			if light.GetSky() == pb.LightSpan_DAY {
				return "The sun does not set that day."
			}
		}
		if len(g.GetLight()) > 0 {
			return "The sun does not rise that day."
		}
	}
	return "Sunrise and sunset have not been reckoned."
}

// groupLight tells in what light a group rides, and when it may start.
func (t *teller) groupLight(g group) string {
	p := g.plan
	if !p.GetHomeAt().IsValid() {
		return g.title + ": its light has not been reckoned."
	}
	var parts []string
	switch {
	case phrase.AllDark(p):
		parts = append(parts, g.title+" rides in the dark all the way, from "+t.clock(p.GetStartAt())+" to "+t.clock(p.GetHomeAt())+".")
	case phrase.FromDark(t.r.GetPlan(), p):
		before := phrase.Between(", ", phrase.BeforeLight(t.r.GetPlan(), p), ",")
		home := t.clock(p.GetHomeAt())
		if p.GetMarginMin() < 0 {
			home += homeAndDark(p)
		}
		parts = append(parts, g.title+" starts at "+t.clock(p.GetStartAt())+before+" and is home at "+home+".")
	default:
		parts = append(parts, g.title+" is home at "+t.clock(p.GetHomeAt())+homeAndDark(p)+".")
	}
	if p.GetLitMin() > 0 {
		parts = append(parts, fmt.Sprintf("It needs lights for %s, %s.", phrase.AtLeast(p.GetLitMin()), t.litTimes(p)))
	} else {
		parts = append(parts, "It needs no lights if it keeps to time.")
	}
	if start := t.startTimes(p); start != "" {
		parts = append(parts, start)
	}
	return strings.Join(parts, " ")
}

// homeAndDark tells how far home lies from dark. Rounded to the careful side: less before dark, more after.
func homeAndDark(p *pb.GroupPlan) string {
	switch margin := p.GetMarginMin(); {
	case p.MarginMin == nil && len(p.GetLight()) > 0 && p.GetLight()[len(p.GetLight())-1].GetDark():
		return ", in the dark"
	case p.MarginMin == nil && p.GetDarkMin() > 0:
		return ""
	case p.MarginMin == nil:
		return "; it does not get dark"
	case margin < 0:
		return ", " + phrase.AfterDark(p) + " after dark begins"
	default:
		return ", " + phrase.Span(math.Floor(margin)) + " before dark begins"
	}
}

// litTimes tells when lights must be lit: "from 15:23 until home".
func (t *teller) litTimes(p *pb.GroupPlan) string {
	var out []string
	for _, lit := range phrase.LitTimes(p) {
		from, to := "from "+t.clock(lit.From), "until "+t.clock(lit.To)
		if lit.AtStart {
			from = "from the start"
		}
		if lit.UntilIn {
			to = "until home"
		}
		out = append(out, from+" "+to)
	}
	if len(out) == 0 {
		return "all the way"
	}
	return phrase.List(out)
}
