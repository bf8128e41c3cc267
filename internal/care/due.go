package care

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// Input is one bike, what is known of it, and what the club asks.
type Input struct {
	// Bike with its newest declaration. Of one out of use nothing is due.
	Bike *pb.Bike
	// Care is its care log, in any order.
	Care []*pb.CareEntry
	// Rides of the club that the bike rode home, in any order.
	Rides []Ridden
	// Book is what the policy says to the checks.
	Book readiness.Book
	// Asked is AskedBy of Book, for who asks about many bikes; nil: it is made.
	Asked *Asked
	// Plan is the plan of a day without a ride on which the bike is judged, beginning at an instant: its circumstances,
	// and the season that it lies in. Its errors end the reckoning. What it gives is not changed.
	Plan func(at time.Time) (*pb.GroupPlan, error)
	// Days is DaysFrom of At and Plan, for who asks about many bikes; nil: it is made.
	Days *Days
	// At is now, in the club's time zone.
	At time.Time
	// DaysAhead is how far ahead something is due soon, 0 to 400 days.
	DaysAhead int
}

// item is an item of the list with what asks for it.
type item struct {
	*pb.DueItem
	ask ask
}

// Due lists what is due on a bike: what a rule asks and is not met today, what will not be met any more on some day of the
// next 400, and how far chain and pads will go until a limit of the policy. The list is in the order of Compare; work that
// several rules ask for is told once.
//
// The only errors are those of Input.Plan.
func Due(in Input) ([]*pb.DueItem, error) {
	if in.Bike.GetRetiredAt() != nil {
		return nil, nil
	}
	if in.Asked == nil {
		in.Asked = AskedBy(in.Book)
	}
	if in.Days == nil {
		var err error
		if in.Days, err = DaysFrom(in.At, in.Plan); err != nil {
			return nil, err
		}
	}
	j := newJudging(in)
	var items []item
	for _, rule := range in.Asked.rules {
		for _, a := range rule {
			if one, ok := j.due(a); ok {
				items = append(items, one)
			}
		}
	}
	for _, w := range wearings() {
		items = j.project(w, items)
	}
	if j.err != nil {
		return nil, j.err
	}
	slices.SortStableFunc(items, func(a, b item) int {
		return cmp.Or(cmp.Compare(a.Urgency, b.Urgency), Compare(a.DueItem, b.DueItem), cmp.Compare(a.ask.order, b.ask.order))
	})
	list := told(items)
	slices.SortStableFunc(list, Compare)
	return list, nil
}

// Compare puts before another item what comes first in a list: what holds a bike, then what sends it to the back, then
// advice; of each what is overdue, then what is due soon, then the rest; of these by day, no day last; then by distance.
func Compare(a, b *pb.DueItem) int {
	return cmp.Or(
		cmp.Compare(b.GetStanding(), a.GetStanding()), cmp.Compare(a.GetUrgency(), b.GetUrgency()),
		lastIfEmpty(a.GetDueOn(), b.GetDueOn()), cmp.Compare(distanceOf(a), distanceOf(b)))
}

// lastIfEmpty puts the earlier day first, and no day last.
func lastIfEmpty(a, b string) int {
	if (a == "") != (b == "") {
		return cmp.Compare(len(b), len(a))
	}
	return cmp.Compare(a, b)
}

func distanceOf(one *pb.DueItem) float64 {
	if one.DueInKm == nil {
		return math.Inf(1)
	}
	return one.GetDueInKm()
}

// due is the item of one thing that is asked, if it is due now or on a day ahead.
func (j *judging) due(a ask) (item, bool) {
	if now := j.findingNow(a); now != nil && now.GetStanding() != pb.Standing_CLEAR {
		one := j.item(a, now)
		one.Urgency = pb.DueItem_OVERDUE
		one.Why = asks(now, ago) + "."
		switch day, since := j.brokenSince(a, now); since {
		case sinceDay:
			one.DueOn = j.date(day)
			one.Why += " Not met since " + longDate(j.endOf(day)) + "."
		case sinceDeclared:
			one.Why += " Not met when the bike was first declared, on " + longDate(j.in.Bike.CreatedAt.AsTime().In(j.in.At.Location())) + ": before then there is no record."
		}
		one.Why = sentences(one.Why, untilThen(now.GetStanding()), now.GetBecause())
		return one, true
	}
	day, ok := j.firstBroken(a)
	if !ok {
		return item{}, false
	}
	then, now := j.finding(a, day), j.findingNow(a)
	one := j.item(a, then)
	one.Urgency, one.DueOn = pb.DueItem_LATER, j.date(day)
	if day <= j.in.DaysAhead {
		one.Urgency = pb.DueItem_SOON
	}
	one.Why = sentences(j.comesDue(now, then, day), fromThen(then.GetStanding()), then.GetBecause())
	return one, true
}

func (j *judging) item(a ask, finding *pb.Finding) item {
	return item{ask: a, DueItem: &pb.DueItem{
		Bike: j.subject.Bike, What: finding.GetRemedy(), Rule: a.rule.GetId(), Check: a.rule.GetCheck(),
		Standing: finding.GetStanding(), Cause: causeOf(a, finding),
	}}
}

// causeOf tells what makes it due that something asked is not met.
func causeOf(a ask, finding *pb.Finding) pb.DueItem_Cause {
	switch {
	case finding.GetNotDeclared():
		return pb.DueItem_NOT_DECLARED
	case a.rule.GetClean().GetSinceWetRide():
		return pb.DueItem_WET_RIDE
	case a.timed || a.rule.GetCheck() == pb.Check_DECLARATION:
		return pb.DueItem_DATE
	default:
		return pb.DueItem_STATE
	}
}

// piece is what makes two items one.
type piece struct {
	check pb.Check
	what  string
}

// told are the items, each piece of work once: the most pressing of those that ask for it, which names the others.
func told(items []item) []*pb.DueItem {
	var list []*pb.DueItem
	first := map[piece]*pb.DueItem{}
	for _, one := range items {
		key := piece{one.Check, one.What}
		before := first[key]
		if before == nil {
			first[key] = one.DueItem
			list = append(list, one.DueItem)
			continue
		}
		if too := "Rule " + one.Rule + " asks for it too."; before.Rule != one.Rule && !strings.Contains(before.Why, too) {
			before.Why = sentences(before.Why, too)
		}
		if before.Projection == nil {
			before.Projection = one.Projection
		}
	}
	return list
}
