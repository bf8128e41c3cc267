package care

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"

	"gritward/internal/wear"
	pb "gritward/proto/gritward/v1"
)

// untilThen says what holds while a rule is not met; nothing where it is advice.
func untilThen(standing pb.Standing) string {
	switch standing {
	case pb.Standing_HELD:
		return "Until then the bike is held."
	case pb.Standing_BACK:
		return "Until then the bike rides at the back of its group."
	default:
		return ""
	}
}

// fromThen says what holds once a rule is not met any more; nothing where it is advice.
func fromThen(standing pb.Standing) string {
	switch standing {
	case pb.Standing_HELD:
		return "After that the bike is held until it is done."
	case pb.Standing_BACK:
		return "After that the bike rides at the back of its group until it is done."
	default:
		return ""
	}
}

// Findings count back from the start of a ride. Without one that is the moment at which the bike was judged: now, or a
// day to come.
const (
	start   = " before the start"
	ago     = " ago"
	thatDay = " before that day"
)

// asks writes what a rule needs and what there is, without a full stop; since is how what lies back from the moment of
// judging is told.
func asks(finding *pb.Finding, since string) string {
	declared := strings.ReplaceAll(finding.GetDeclared(), start, since)
	if since == ago {
		if strings.Contains(declared, "0 min ago") || strings.Contains(declared, " s ago") { // both look long
			declared = smallRest().ReplaceAllString(declared, "${1} ago")
			declared = justNow().ReplaceAllString(declared, "${1}just now")
		}
		declared = strings.ReplaceAll(declared, " 0 days ago", " today")
	}
	return fmt.Sprintf("Rule %s needs: %s; declared: %s", finding.GetRule(),
		strings.ReplaceAll(finding.GetNeeded(), start, " before a ride"), declared)
}

// justNow is less than a minute ago, which nobody counts.
var justNow = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`(^|[ ,])(?:0 min|\d+ s) ago`) })

// smallRest is what nobody counts beside minutes or hours.
var smallRest = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`(\d (?:h|min)) (?:0 min|\d+ s) ago`) })

// comesDue writes why something that is well now will not be on a day. now is nil where it is not asked yet.
func (j *judging) comesDue(now, then *pb.Finding, day int) string {
	if now == nil {
		return fmt.Sprintf("From %s on it is asked. %s.", longDate(j.endOf(day)), asks(then, thatDay))
	}
	if day == 0 {
		return asks(now, ago) + ". That is enough now, and not any more by the end of today."
	}
	return fmt.Sprintf("%s. That is enough up to %s.", asks(now, ago), longDate(j.endOf(day-1)))
}

// sentences joins those that are not empty.
func sentences(parts ...string) string {
	var said []string
	for _, part := range parts {
		if part != "" {
			said = append(said, part)
		}
	}
	return strings.Join(said, " ")
}

func longDate(at time.Time) string { return at.Format("2 January 2006") }

// isOf tells whether an item is about this end, where the part has one.
func (w wearing) isOf(one *pb.DueItem) bool {
	return w.end == pb.End_END_UNSPECIFIED || strings.Contains(one.GetWhat(), strings.Fields(w.name)[0])
}

func (w wearing) renew() string { return "Renew the " + w.name }

func (w wearing) renewAt(limit float64) string {
	return fmt.Sprintf("%s at %s %s: have new ones ready.", w.renew(), number(limit), w.unit)
}

func (w wearing) measureAgain() string {
	return fmt.Sprintf("Measure the %s again after %d km or more, and record it in the care log.", w.name, wear.LeastSpanKm)
}

// words writes a projection for a person.
func (w wearing) words(p wear.Projection, limit float64, by pb.WearProjection_Distance) string {
	newest := fmt.Sprintf("The %s %s %s %s when last measured; the limit is %s %s.", w.name, w.was(), number(p.Newest), w.unit, number(limit), w.unit)
	if p.Reached {
		return newest
	}
	if p.Basis == wear.NotEnough {
		return sentences(newest, "How far that will go cannot be told yet: "+w.lacks(p, by)+".")
	}
	rate := fmt.Sprintf("By %s over %s %s, wear is about %s %s for 1,000 km", count(p.Used, "reading"), km(p.SpanKm), byWords[by], number(p.DryPer1000Km), w.unit)
	if p.Basis == wear.WetAndDry {
		rate += fmt.Sprintf(" in the dry and %s %s in the wet", number(p.WetPer1000Km), w.unit)
	}
	farthest := "or far later"
	if !math.IsInf(p.KmHigh, 1) {
		farthest = "and likely before " + km(p.KmHigh)
	}
	return fmt.Sprintf("%s %s. The limit comes about %s after that reading, hardly before %s %s.", newest, rate, km(p.KmMiddle), km(p.KmLow), farthest)
}

// lacks tells what readings lack for a projection.
func (w wearing) lacks(p wear.Projection, by pb.WearProjection_Distance) string {
	switch {
	case p.Places < wear.FewestReadings:
		has := fmt.Sprintf("there are %d", p.Places)
		if p.Places == 1 {
			has = "there is 1"
		}
		return fmt.Sprintf("it takes %d readings with rides between them since the last renewal, and %s", wear.FewestReadings, has)
	case p.SpanKm < wear.LeastSpanKm:
		return fmt.Sprintf("it takes readings that span %d km, and these span %s %s", wear.LeastSpanKm, km(p.SpanKm), byWords[by])
	default:
		return fmt.Sprintf("between the readings there is no more wear than a reading may be off (%s %s)", number(w.spread), w.unit)
	}
}

func (w wearing) waswere() string {
	if w.end == pb.End_END_UNSPECIFIED {
		return "was"
	}
	return "were"
}

func (w wearing) was() string { return w.waswere() + " at" }

// words says how far it is from now.
func (a ahead) words(left float64) string {
	text := ""
	if a.since > 0 {
		text = fmt.Sprintf("With %s ridden since, about %s are left", km(a.since), km(left))
	} else {
		text = fmt.Sprintf("About %s are left", km(left))
	}
	if a.kmADay > 0 && left > 0 {
		by := ""
		if a.byOdometer {
			by = " by the odometer"
		}
		text += fmt.Sprintf(": %s at %s a week, as in the last %d weeks%s", weeks(left/a.kmADay), km(7*a.kmADay), lately/7, by)
	}
	return text + "."
}

// weeks writes a time of days.
func weeks(days float64) string {
	switch n := math.Round(days / 7); {
	case n < 1:
		return "less than a week"
	case n > 104:
		return "more than two years"
	default:
		return count(int(n), "week")
	}
}

// km writes a distance to 10 km, below 100 km to 1 km.
func km(x float64) string {
	step := 10.0
	if x < 100 {
		step = 1
	}
	return strconv.FormatFloat(math.Round(x/step)*step, 'f', 0, 64) + " km"
}

// number writes a measure to a hundredth.
func number(x float64) string { return strconv.FormatFloat(math.Round(x*100)/100+0, 'f', -1, 64) }

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
