package readiness

import (
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	pb "gritward/proto/gritward/v1"
)

// cleanSections looks at washing and the look-over that goes with it. Washed and looked over after every wet ride: common
// practice, no source.
func cleanSections(rule *pb.Rule) []section {
	need := rule.GetClean()
	if need == nil {
		return nil
	}
	wash, look := washed(need.GetWashedWithin()), lookedOver(need.GetLookedOverWithin())
	var limits []limit
	if need.WashedWithin != nil {
		limits = append(limits, wash.limit())
	}
	if need.LookedOverWithin != nil {
		limits = append(limits, look.limit())
	}
	if need.GetSinceWetRide() {
		limits = append(limits, sinceWetRide(wash, true), sinceWetRide(look, false))
	}
	if need.GetNoOpenDamage() {
		limits = append(limits, nothingOpen())
	}
	if need.GetFoundPutRight() {
		limits = append(limits, foundPutRight(need.GetNoOpenDamage()))
	}
	return []section{{limits: limits}}
}

func washed(within *durationpb.Duration) dated {
	return dated{
		did: "bike washed", within: within.AsDuration(), log: fromWashed, work: work{does: jobWash},
		do:      "Wash the bike with a bucket and a brush, no jet at the bearings, and dry it",
		declare: "when the bike was last washed",
		get:     func(f *pb.BikeFacts) string { return f.GetCleaning().GetWashedOn() },
		set:     func(f *pb.BikeFacts, on string) { made(&f.Cleaning).WashedOn = on },
	}
}

func lookedOver(within *durationpb.Duration) dated {
	return dated{
		did: "bike looked over", within: within.AsDuration(), log: fromLookedOver, work: work{does: jobLookOver},
		do:      "Look the clean bike over for damage: frame, rims, spokes, cables and bolts" + mechanic,
		declare: "when the bike was last looked over for damage",
		get:     func(f *pb.BikeFacts) string { return f.GetCleaning().GetLookedOverOn() },
		set:     func(f *pb.BikeFacts, on string) { made(&f.Cleaning).LookedOverOn = on },
	}
}

// sinceWetRide asks that something was done since the last wet ride of the club that the bike rode home. On the same day
// is since: who washes before a ride does not write it down. The first of several limits says when that ride was.
func sinceWetRide(p dated, first bool) limit {
	l := p.limit()
	l.needed = p.did + " since the last wet ride"
	l.look = func(c *context) answer {
		if c.lastWetRide == noDay || c.lastWetRide > c.today {
			return moot
		}
		done := c.day(p.get(c.facts))
		return answerOf(done != noDay, done <= c.today && done >= c.lastWetRide)
	}
	l.declared = func(c *context, w *words) {
		if first {
			w.add("last wet ride on ")
			w.day(c.lastWetRide)
			w.add(", ")
		}
		c.done(w, p.did, p.get(c.facts), p.log)
	}
	l.todo = always(p.do + ".")
	return l
}

// nothingOpen asks that nothing found at the look-over is left open. A bike that nobody says to have looked over is not
// known to be whole.
func nothingOpen() limit {
	return limit{
		needed: "nothing found left open", declare: "what was found at the last look-over", work: work{does: jobFound},
		look: func(c *context) answer {
			cleaning := c.facts.GetCleaning()
			if cleaning.GetDamageOpen() != "" {
				return no
			}
			return answerOf(c.day(cleaning.GetLookedOverOn()) != noDay, true)
		},
		declared: func(c *context, w *words) {
			cleaning := c.facts.GetCleaning()
			switch {
			case cleaning.GetDamageOpen() != "":
				w.add("open: ")
				w.add(cleaning.GetDamageOpen())
			case cleaning.GetLookedOverOn() != "":
				w.add("nothing open")
			default:
				w.add("what was found " + notDeclared)
			}
		},
		todo: always("Put right what was found, or have a mechanic look at it before the bike is ridden, and certify the bike again."),
		mend: func(c *context) {
			c.facts.Cleaning = &pb.Cleaning{
				WashedOn: c.facts.GetCleaning().GetWashedOn(), LookedOverOn: c.startDay.text(),
			}
		},
	}
}

// foundPutRight is nothingOpen for a club that holds a bike only for what is known of it: of a bike that nobody says to have
// looked over nothing is known, and that costs nothing here.
// Beside it what was declared is said already.
func foundPutRight(beside bool) limit {
	l := nothingOpen()
	if beside {
		l.declared = nil
	}
	l.needed = "nothing known that is not put right"
	l.look = func(c *context) answer { return answerOf(true, c.facts.GetCleaning().GetDamageOpen() == "") }
	l.mend = func(c *context) {
		if cleaning := c.facts.GetCleaning(); cleaning != nil {
			c.facts.Cleaning = &pb.Cleaning{WashedOn: cleaning.WashedOn, LookedOverOn: cleaning.LookedOverOn}
		}
	}
	return l
}

// civilDate is the day of an instant as the protocol writes it.
func civilDate(at time.Time, zone *time.Location) string { return dayOf(at, zone).text() }
