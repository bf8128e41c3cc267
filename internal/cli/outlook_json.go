package cli

import (
	"math"
	"strings"
	"time"

	"gritward/internal/daylight"
)

// outlookFacts is the answer of "outlook --json". Instants are RFC 3339 with the zone's offset, to the second.
type outlookFacts struct {
	RouteTitle string              `json:"route_title"`
	DistanceM  float64             `json:"distance_m"`
	StartClock string              `json:"start_clock"` // HH:MM, civil
	Weekday    string              `json:"weekday"`     // or any
	Zone       string              `json:"zone"`
	DarkBegins string              `json:"dark_begins"`
	MarginMin  float64             `json:"margin_min"`
	Groups     []outlookGroupFacts `json:"groups"`
	Dates      []outlookDateFacts  `json:"dates"`
	Notes      []string            `json:"notes"`
}

type outlookGroupFacts struct {
	ID       string  `json:"id"`
	Title    string  `json:"title"`
	PaceKmh  float64 `json:"pace_kmh"`
	AfterMin float64 `json:"after_min"`
	TakesMin float64 `json:"takes_min"`
}

type outlookDateFacts struct {
	Date    string         `json:"date"`
	Problem string         `json:"problem"` // why nothing is reckoned; "" as a rule
	Outings []outingOfDate `json:"outings"`
}

type outingOfDate struct {
	Group string `json:"group"`
	outingFacts
}

type outingFacts struct {
	StartAt         string   `json:"start_at"`
	HomeAt          string   `json:"home_at"`
	DarkBeginsAt    *string  `json:"dark_begins_at"` // at the finish; null: not within a day of home
	SunsetAt        *string  `json:"sunset_at"`      // at the finish
	HomeInDark      bool     `json:"home_in_dark"`
	MarginToDarkMin *float64 `json:"margin_to_dark_min"` // null with dark_begins_at
	LightsNeeded    bool     `json:"lights_needed"`
	LitMin          float64  `json:"lit_min"`
	DarkMin         float64  `json:"dark_min"`
	LatestStartAt   *string  `json:"latest_start_at"` // null: no start that day does
}

func outlookFactsOf(s *outlook) outlookFacts {
	facts := outlookFacts{
		RouteTitle: s.line.Name, DistanceM: s.line.DistanceM, StartClock: s.clock, Weekday: s.day, Zone: s.zone.String(),
		DarkBegins: s.rule.Begins.String(), MarginMin: s.rule.Margin.Minutes(),
		Notes: append(append([]string{}, s.line.Notes...), outlookAssumed, strings.ReplaceAll(outlookCaution, "\n", " ")),
	}
	for _, g := range s.groups {
		facts.Groups = append(facts.Groups, outlookGroupFacts{g.id, g.title, g.paceKmh, g.after.Minutes(), hundredths(g.takes)})
	}
	for _, day := range s.days {
		date := outlookDateFacts{Date: day.date.Format(time.DateOnly), Problem: day.problem, Outings: []outingOfDate{}}
		for g, o := range day.outings {
			date.Outings = append(date.Outings, outingOfDate{s.groups[g].id, outingFactsOf(o)})
		}
		facts.Dates = append(facts.Dates, date)
	}
	return facts
}

func outingFactsOf(o daylight.Outing) outingFacts {
	facts := outingFacts{
		StartAt: *stamp(&o.Start), HomeAt: *stamp(&o.Home), DarkBeginsAt: stamp(o.DarkAtFinish), SunsetAt: stamp(o.SunsetAtHome),
		HomeInDark: o.MarginToDark < 0, LightsNeeded: o.LitFor > 0, LitMin: hundredths(o.LitFor), DarkMin: hundredths(o.DarkFor),
		LatestStartAt: stamp(o.LatestStart),
	}
	if o.DarkAtFinish != nil {
		margin := hundredths(o.MarginToDark)
		facts.MarginToDarkMin = &margin
	}
	return facts
}

// hundredths is minutes to two places, which is half a second near.
func hundredths(d time.Duration) float64 { return math.Round(d.Minutes()*100) / 100 }
