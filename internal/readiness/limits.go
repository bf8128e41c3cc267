package readiness

import (
	"strings"
	"time"

	pb "gritward/proto/gritward/v1"
)

// truth is a limit on something that is so or not so.
type truth struct {
	needed string // "pump"
	// good and bad are what is declared when it is as asked and when it is not; name stands before "not declared".
	good, bad, name string
	declare, do     string // "whether you carry a pump"; "Carry a pump."
	inverted        bool   // false is good
	get             func(*pb.BikeFacts) *bool
	set             func(*pb.BikeFacts, *bool)
	asked           func(*context) answer // nil: always; moot: not of this bike
	kinds           uint8                 // of brakes; see limit
	work                                  // see limit
	log             origin
}

func (p truth) limit() limit {
	get, inverted := p.get, p.inverted
	return limit{
		needed: p.needed, declare: p.declare, todo: always(p.do), good: p.good, kinds: p.kinds, work: p.work,
		look: asking(p.asked, func(c *context) answer {
			switch value := get(c.facts); {
			case value == nil:
				return unknown
			case *value != inverted:
				return yes
			default:
				return no
			}
		}),
		declared: func(c *context, w *words) {
			switch value := p.get(c.facts); {
			case value == nil:
				w.add(p.name)
				w.add(" " + notDeclared)
			case *value != p.inverted:
				w.add(p.good)
				c.origin(w, p.log)
			default:
				w.add(p.bad)
				c.origin(w, p.log)
			}
		},
		mend: func(c *context) {
			value := !p.inverted
			p.set(c.facts, &value)
		},
	}
}

// least is a limit below which a measure must not be.
type least struct {
	what, unit  string // "pads", "mm": said as "pads at least 0.5 mm" and "pads 0.4 mm"
	min         float64
	declare, do string
	get         func(*pb.BikeFacts) *float64
	set         func(*pb.BikeFacts, *float64)
	asked       func(*context) answer // nil: always; moot: not of this bike; unknown: not known whether
	work                              // see limit
	log         origin
}

func (p least) limit() limit {
	what, unit, get, least := p.what+" ", " "+p.unit, p.get, p.min
	return limit{
		needed: p.what + " at least " + decimal(p.min) + unit, declare: p.declare, todo: always(p.do), work: p.work,
		look: asking(p.asked, func(c *context) answer {
			switch value := get(c.facts); {
			case value == nil:
				return unknown
			case *value >= least:
				return yes
			default:
				return no
			}
		}),
		declared: func(c *context, w *words) {
			w.add(what)
			value := get(c.facts)
			if value == nil {
				w.add(notDeclared)
				return
			}
			w.measure(*value, unit)
			c.origin(w, p.log)
		},
		mend: func(c *context) { p.set(c.facts, &p.min) },
	}
}

// dated is a limit on how long before the start something was done. It counts in days of the calendar: what was done on
// the day that lies exactly so far back still counts.
type dated struct {
	did     string // "chain lubricated"
	within  time.Duration
	do      string // what to do, without a full stop: "Lubricate the chain"
	declare string // "when the chain was last lubricated"
	get     func(*pb.BikeFacts) string
	set     func(*pb.BikeFacts, string)
	asked   func(*context) answer // nil: always
	work                          // see limit
	log     origin
}

func (p dated) limit() limit {
	days, get := civilDay(p.within/day), p.get
	return limit{
		needed: p.did + " at most " + ageWords(p.within) + " before the start", declare: p.declare, work: p.work,
		look: asking(p.asked, func(c *context) answer {
			done := c.day(get(c.facts))
			return answerOf(done != noDay, done <= c.today && c.startDay-done <= days)
		}),
		declared: func(c *context, w *words) { c.done(w, p.did, p.get(c.facts), p.log) },
		todo: func(c *context) string {
			if c.day(p.get(c.facts)) > c.today {
				return "Put right the date of \"" + p.did + "\", which lies in the future."
			}
			return strings.TrimSuffix(p.do, ".") + c.notBefore(days) + "."
		},
		mend: func(c *context) { p.set(c.facts, c.startDay.text()) },
	}
}

// asking puts a question before another: whether it is asked of such a bike. Where that is not known it is asked.
func asking(asked, look func(*context) answer) func(*context) answer {
	if asked == nil {
		return look
	}
	return func(c *context) answer {
		if a := asked(c); a == moot {
			return a
		}
		return look(c)
	}
}

// always is a sentence that does not depend on the bike.
func always(text string) func(*context) string { return func(*context) string { return text } }

// done writes when something was done: "chain lubricated on 21 November 2026, 22 days before the start".
func (c *context) done(w *words, did, on string, log origin) {
	done := c.day(on)
	if done == noDay {
		w.add("when ")
		w.add(did)
		w.add(" " + notDeclared)
		return
	}
	w.add(did)
	w.add(" on ")
	w.day(done)
	switch {
	case done > c.today:
		w.add(", which is after today")
	case done <= c.startDay:
		w.add(", ")
		w.days(int(c.startDay - done))
		w.add(" before the start")
	}
	c.origin(w, log)
}

// notBefore says how early is too early, where the ride is still further off than the work counts.
func (c *context) notBefore(days civilDay) string {
	if earliest := c.startDay - days; earliest > c.today {
		return ". Do this on " + earliest.words() + " or later, so that it still counts"
	}
	return ""
}
