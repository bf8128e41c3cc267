package readiness

import (
	"sync"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	pb "gritward/proto/gritward/v1"
)

// context is what a check sees.
type context struct {
	book        Book
	declaration *pb.Declaration
	facts       *pb.BikeFacts // in effect, the care log reckoned in; nil where nothing is known
	log         origin        // which of the facts the care log gave
	group       *pb.GroupPlan // never nil
	nowhere     bool          // every group of the ride holds the bike
	holds       uint32        // circumstances of the group, a bit each, ALWAYS among them
	startAt     time.Time
	at          time.Time
	// Days of the calendar in the zone of the judging; dated: those of startAt and at are known, from the use before, too.
	startDay, today, lastWetRide, seasonFrom civilDay
	dated                                    bool
	burn                                     burn // see burning
	burns                                    bool
	lastText                                 string // see day
	lastDay                                  civilDay
	// found is what met found of each rule of the book in a group before that has the same days; see met.
	found []answer
	// rules are those to be told, and before those told last in a group that has the same days; see told.
	rules, before []*Rule
	// findings are what was told of those, and worst is their standing.
	findings []*pb.Finding
	worst    pb.Standing
	// stamp is at, made when it is first told.
	stamp *timestamppb.Timestamp
}

// contexts are used again by those who keep nothing of them.
var contexts = sync.Pool{New: func() any { return new(context) }}

// borrowed is a context out of contexts, to be given back.
func borrowed(book *Book, bike *Subject, group *pb.GroupPlan, at time.Time) *context {
	c := contexts.Get().(*context) //nolint:errcheck,forcetypeassert // of what New makes
	c.set(book, bike, group, at)
	return c
}

// giveBack ends the use of a context: it holds on to nobody's bike, and set writes the rest.
func (c *context) giveBack() {
	c.declaration, c.facts, c.group, c.stamp, c.findings = nil, nil, nil, nil, nil
	clear(c.rules)
	clear(c.before)
	contexts.Put(c)
}

func newContext(book *Book, bike *Subject, group *pb.GroupPlan, at time.Time) *context {
	c := new(context)
	c.set(book, bike, group, at)
	return c
}

// set fills in a context that is new, or was given back.
func (c *context) set(book *Book, bike *Subject, group *pb.GroupPlan, at time.Time) {
	if c.at != at || !c.dated {
		c.at, c.today, c.dated = at, dayOf(at, at.Location()), true
		c.startAt, c.startDay = c.at, c.today
	}
	c.book, c.declaration, c.nowhere, c.lastWetRide = *book, bike.Declaration, bike.HeldEverywhere, parseDay(bike.LastWetRideOn)
	c.facts, c.log = inEffect(bike, at)
	if len(bike.Looks) > 0 {
		c.facts = look(c.facts, bike.Looks, at.Location())
	}
	c.found, c.rules, c.before, c.worst = c.found[:0], c.rules[:0], c.before[:0], 0
	c.in(group)
}

// noGroup is the plan of a day without a ride.
var noGroup = &pb.GroupPlan{}

// in has the bike judged in a group, nil: in none. What is known of the bike stays.
func (c *context) in(group *pb.GroupPlan) {
	if group == nil {
		group = noGroup
	}
	startDay, seasonFrom, startAt := c.startDay, c.seasonFrom, c.at
	c.group, c.burns = group, false
	c.holds = setOf(group.GetCircumstances()) | 1<<pb.Circumstance_ALWAYS
	if start := group.GetStartAt(); start.IsValid() {
		startAt = start.AsTime()
	}
	if c.startAt != startAt {
		c.startAt, c.startDay = startAt, dayOf(startAt, c.at.Location())
	}
	if c.seasonFrom = parseDay(group.GetSeasonFrom()); c.startDay != startDay || c.seasonFrom != seasonFrom {
		c.found, c.before = c.found[:0], c.before[:0]
	}
}

// met tells whether a rule of the book, by its place in it, is met. Checks that are made of limits look at days and at the bike
// alone, so that what they say holds for every group with the same days.
func (c *context) met(i int, f *form) bool {
	if f.sections == nil {
		return f.met(c)
	}
	if len(c.found) == 0 {
		c.found = append(c.found, make([]answer, len(c.book.Rules))...)
	}
	if c.found[i] == unknown {
		c.found[i] = choose(f.met(c), yes, no)
	}
	return c.found[i] == yes
}

// day is parseDay. Much on a bike is done on one day, so the day read last is kept.
func (c *context) day(text string) civilDay {
	if text != c.lastText {
		c.lastText, c.lastDay = text, parseDay(text)
	} else if text == "" {
		return noDay
	}
	return c.lastDay
}

// burning is how long lamps have to last, reckoned once.
func (c *context) burning() *burn {
	if !c.burns {
		c.burn, c.burns = newBurn(c), true
	}
	return &c.burn
}
