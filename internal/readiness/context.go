package readiness

import (
	"sync"
	"time"

	pb "gritward/proto/gritward/v1"
)

// context is what a check sees.
type context struct {
	book        Book
	declaration *pb.Declaration
	facts       *pb.BikeFacts // in effect, the care log reckoned in; nil where nothing is known
	log         origin        // which of the facts the care log gave
	group       *pb.GroupPlan // never nil
	holds       uint32        // circumstances of the group, a bit each, ALWAYS among them
	startAt     time.Time
	at          time.Time
	// Days of the calendar in the zone of the judging.
	startDay, today, lastWetRide, seasonFrom civilDay
	burn                                     burn // see burning
	burns                                    bool
	lastText                                 string // see day
	lastDay                                  civilDay
}

// contexts are used again by Standing, which keeps nothing of them.
var contexts = sync.Pool{New: func() any { return new(context) }}

func newContext(book *Book, bike *Subject, group *pb.GroupPlan, at time.Time) *context {
	c := new(context)
	c.set(book, bike, group, at)
	return c
}

// set fills in a context that is new.
func (c *context) set(book *Book, bike *Subject, group *pb.GroupPlan, at time.Time) {
	if group == nil {
		group = &pb.GroupPlan{}
	}
	*c = context{
		book: *book, declaration: bike.Declaration, group: group, startAt: at, at: at,
		holds:       setOf(group.GetCircumstances()) | 1<<pb.Circumstance_ALWAYS,
		lastWetRide: parseDay(bike.LastWetRideOn), seasonFrom: parseDay(group.GetSeasonFrom()),
	}
	if start := group.GetStartAt(); start.IsValid() {
		c.startAt = start.AsTime()
	}
	c.startDay, c.today = dayOf(c.startAt, at.Location()), dayOf(at, at.Location())
	c.facts, c.log = inEffect(bike, at)
	c.facts = look(c.facts, bike.Looks, at.Location())
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
