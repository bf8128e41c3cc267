package render

import (
	"math"
	"strconv"
	"strings"
	"time"

	pb "gritward/proto/gritward/v1"

	"google.golang.org/protobuf/types/known/timestamppb"
)

// watch tells times in a zone.
type watch struct {
	loc *time.Location
	day string // YYYY-MM-DD; times of another day name it
}

// watchOf is a watch of an IANA zone on the day of at. A name that is none gives UTC, and "Local", the machine's zone,
// has no meaning for a club.
func watchOf(zone string, at *timestamppb.Timestamp) watch {
	loc, err := time.LoadLocation(zone)
	if err != nil || zone == "Local" {
		loc = time.UTC
	}
	w := watch{loc: loc}
	if at.IsValid() {
		w.day = at.AsTime().In(loc).Format(time.DateOnly)
	}
	return w
}

// clock is HH:MM, with the day where it is another; "not known" for no time.
func (w watch) clock(at *timestamppb.Timestamp) string {
	if !at.IsValid() {
		return "not known"
	}
	local := at.AsTime().In(w.loc)
	if w.day != "" && local.Format(time.DateOnly) != w.day {
		return local.Format("15:04 on Mon 2 Jan")
	}
	return local.Format("15:04")
}

// date is the day in words, and stamp the day with the time; both empty for no time.
func (w watch) date(at *timestamppb.Timestamp) string { return w.format(at, "Monday 2 January 2006") }

func (w watch) stamp(at *timestamppb.Timestamp) string {
	return w.format(at, "Monday 2 January 2006, 15:04")
}

func (w watch) format(at *timestamppb.Timestamp, layout string) string {
	if !at.IsValid() {
		return ""
	}
	return at.AsTime().In(w.loc).Format(layout)
}

// zoneName is the name of the zone for people, "Europe/London".
func (w watch) zoneName() string { return w.loc.String() }

// number is v to so many decimals, without zeros at the end; "?" for what is none.
func number(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "?"
	}
	scale := math.Pow10(decimals)
	return strings.Replace(strconv.FormatFloat(math.Round(v*scale)/scale+0, 'f', -1, 64), "-", "−", 1)
}

// km is a distance given in m.
func km(m float64) string { return number(m/1000, 1) + " km" }

// sight is a visibility given in m.
func sight(m float64) string {
	if m >= 1000 {
		return km(m)
	}
	return number(m, 0) + " m"
}

// span is whole minutes: "45 min", "3 h 5 min".
func span(min float64) string {
	if !(math.Abs(min) < 1e7) {
		return "?"
	}
	n := int(min)
	switch {
	case n < 60:
		return strconv.Itoa(n) + " min"
	case n%60 == 0:
		return strconv.Itoa(n/60) + " h"
	}
	return strconv.Itoa(n/60) + " h " + strconv.Itoa(n%60) + " min"
}

// atLeast is span rounded up.
func atLeast(min float64) string { return span(math.Ceil(min)) }

// againstDark tells how far home lies from dark; empty where that is not known.
func againstDark(p *pb.GroupPlan) string {
	switch margin := p.GetMarginMin(); {
	case !p.GetHomeAt().IsValid():
		return ""
	case p.MarginMin == nil && homeInDark(p):
		return "in the dark"
	case p.MarginMin == nil && p.GetDarkMin() > 0:
		return ""
	case p.MarginMin == nil:
		return "in the light"
	case margin < 0:
		return atLeast(-margin) + " after dark begins"
	default:
		return span(math.Floor(margin)) + " before dark"
	}
}

// homeInDark tells whether the last of a group's light is dark.
func homeInDark(p *pb.GroupPlan) bool {
	n := len(p.GetLight())
	return n > 0 && p.GetLight()[n-1].GetDark()
}

// lightWords tells the minutes in the dark and with lights.
func lightWords(p *pb.GroupPlan) string {
	if p.GetLitMin() <= 0 && p.GetDarkMin() <= 0 {
		return "no lights needed if on time"
	}
	return "lights for " + amount(p)
}

// amount is the time with lights, and how much of it is dark.
func amount(p *pb.GroupPlan) string {
	words := atLeast(p.GetLitMin())
	switch dark, lit := atLeast(p.GetDarkMin()), atLeast(p.GetLitMin()); {
	case p.GetDarkMin() <= 0:
	case dark == lit:
		words += ", all of it dark"
	default:
		words += ", " + dark + " of it dark"
	}
	return words
}

// firstOf is the first word that is not empty.
func firstOf(words ...string) string {
	for _, w := range words {
		if w != "" {
			return w
		}
	}
	return ""
}

// last is the last part of a resource name, for people.
func last(name string) string { return name[strings.LastIndexByte(name, '/')+1:] }

// counted is "1 rider", "3 riders".
func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// short is the head of a digest, enough to compare by eye.
func short(digest string) string {
	if runes := []rune(digest); len(runes) > 12 {
		return string(runes[:12])
	}
	return digest
}
