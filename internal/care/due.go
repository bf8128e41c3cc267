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
	// Plan is the plan of a day without a ride on which the bike is judged, beginning at an instant: its circumstances,
	// and the season that it lies in. Its errors end the reckoning.
	Plan func(at time.Time) (*pb.GroupPlan, error)
	// At is now, in the club's time zone.
	At time.Time
	// DaysAhead is how far ahead something is due soon, 0 to 400 days.
	DaysAhead int
}

// item is an item of the list with what it is sorted by.
type item struct {
	*pb.DueItem
	ask   ask
	cost  pb.Standing // of the rule, when it is not met
	days  float64     // until it is due, perhaps; below 0: since; +Inf where it is not known
	until string      // what holds while a rule is not met
}

// Due lists what is due on a bike, most pressing first: what a rule asks and is not met today, what will not be met any
// more on some day of the next 400, and how far chain and pads will go until a limit of the policy. Among what is
// overdue the dearest comes first, otherwise what falls due first. Work that several rules ask for is told once.
//
// The only errors are those of Input.Plan.
func Due(in Input) ([]*pb.DueItem, error) {
	if in.Bike.GetRetiredAt() != nil {
		return nil, nil
	}
	j := newJudging(in)
	var items []item
	for order, rule := range in.Book.Rules {
		for _, a := range asksOf(rule, order) {
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
	slices.SortStableFunc(items, item.compare)
	return told(items), nil
}

// due is the item of one thing that is asked, if it is due now or on a day ahead.
func (j *judging) due(a ask) (item, bool) {
	if now := j.findingNow(a); now != nil && now.GetStanding() != pb.Standing_CLEAR {
		one := j.item(a, now)
		one.Urgency, one.days = pb.DueItem_OVERDUE, math.Inf(1)
		one.Why = asks(now) + "."
		if day, ok := j.brokenSince(a, now); ok {
			one.DueOn, one.days = j.date(day), float64(day)
			one.Why += " Not met since " + longDate(j.endOf(day)) + "."
		}
		one.Why = sentences(one.Why, one.until, now.GetBecause())
		return one, true
	}
	day, ok := j.firstBroken(a)
	if !ok {
		return item{}, false
	}
	then, now := j.finding(a, day), j.findingNow(a)
	one := j.item(a, then)
	one.Urgency, one.DueOn, one.days = pb.DueItem_LATER, j.date(day), float64(day)
	if day <= j.in.DaysAhead {
		one.Urgency = pb.DueItem_SOON
	}
	one.Why = sentences(j.comesDue(now, then, day), then.GetBecause())
	return one, true
}

func (j *judging) item(a ask, finding *pb.Finding) item {
	return item{
		DueItem: &pb.DueItem{Bike: j.subject.Bike, What: finding.GetRemedy(), Rule: a.rule.GetId(), Check: a.rule.GetCheck()},
		ask:     a, cost: finding.GetStanding(), until: holds(finding.GetStanding()),
	}
}

// compare puts the more pressing item first.
func (i item) compare(other item) int {
	if c := cmp.Compare(i.Urgency, other.Urgency); c != 0 {
		return c
	}
	dearer, sooner := cmp.Compare(other.cost, i.cost), cmp.Compare(i.days, other.days)
	if i.Urgency == pb.DueItem_OVERDUE {
		return cmp.Or(dearer, sooner, cmp.Compare(i.ask.order, other.ask.order))
	}
	return cmp.Or(sooner, dearer, cmp.Compare(i.ask.order, other.ask.order))
}

// work is what makes two items one.
type work struct {
	check pb.Check
	what  string
}

// told are the items, each piece of work once: the most pressing of those that ask for it, which names the others.
func told(items []item) []*pb.DueItem {
	var list []*pb.DueItem
	first := map[work]*pb.DueItem{}
	for _, one := range items {
		key := work{one.Check, one.What}
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
