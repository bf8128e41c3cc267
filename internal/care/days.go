package care

import (
	"slices"
	"time"

	"google.golang.org/protobuf/proto"

	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// farthest is how many days ahead and back is looked: the longest that may be asked to be looked ahead.
const farthest = 400

// judging judges one bike on other days than today. A day is judged at its end: a declaration that stops counting in the
// course of it is due on it.
type judging struct {
	in      Input
	subject readiness.Subject
	past    map[int]*pb.GroupPlan // plans of the ends of days before today, as far as they were needed
	now     *pb.GroupPlan
	err     error // of Input.Plan, the first
}

// Days are a day and those after it, as far as is looked ahead, without a ride under way. Nothing in it changes.
type Days struct {
	plans []*pb.GroupPlan // of the ends of days
	spans []span
}

// DaysFrom plans the days from one on, in the time zone of at. The only errors are those of plan.
func DaysFrom(at time.Time, plan func(time.Time) (*pb.GroupPlan, error)) (*Days, error) {
	d := &Days{plans: make([]*pb.GroupPlan, farthest+1)}
	for day := range d.plans {
		var err error
		if d.plans[day], err = plan(endOf(at, day)); err != nil {
			return nil, err
		}
		if day > 0 && sameCircumstances(d.plans[day-1], d.plans[day]) {
			d.spans[len(d.spans)-1].to = day
		} else {
			d.spans = append(d.spans, span{day, day})
		}
	}
	return d, nil
}

// span is a run of days, both included, on which the same circumstances hold.
type span struct{ from, to int }

func newJudging(in Input) *judging {
	j := &judging{in: in, past: map[int]*pb.GroupPlan{}, subject: readiness.Subject{
		Bike: in.Bike.GetName(), Declaration: in.Bike.GetDeclaration(), LastWetRideOn: lastWet(in.Rides, in.At),
		Care: known(in.Care, in.At),
	}}
	j.now = j.planAt(in.At)
	return j
}

// plan is the plan of the end of a day, counted from today.
func (j *judging) plan(day int) *pb.GroupPlan {
	if day >= 0 {
		return j.in.Days.plans[day]
	}
	plan, ok := j.past[day]
	if !ok {
		plan = j.planAt(j.endOf(day))
		j.past[day] = plan
	}
	return plan
}

// planAt asks for a plan, until one fails.
func (j *judging) planAt(at time.Time) *pb.GroupPlan {
	if j.err != nil {
		return nil
	}
	var plan *pb.GroupPlan
	plan, j.err = j.in.Plan(at)
	return plan
}

func sameCircumstances(a, b *pb.GroupPlan) bool {
	return a.GetSeasonFrom() == b.GetSeasonFrom() && slices.Equal(a.GetCircumstances(), b.GetCircumstances())
}

// endOf is the last second of a day, counted from today.
func (j *judging) endOf(day int) time.Time { return endOf(j.in.At, day) }

func endOf(at time.Time, day int) time.Time {
	year, month, today := at.Date()
	return time.Date(year, month, today+day, 23, 59, 59, 0, at.Location())
}

// date is a day, counted from today, as the protocol writes it.
func (j *judging) date(day int) string { return j.endOf(day).Format(time.DateOnly) }

// broken tells whether what is asked is asked on a day, and not met.
func (j *judging) broken(a ask, day int) bool {
	return readiness.Standing(j.book(a), j.subject, j.plan(day), j.endOf(day)) != pb.Standing_CLEAR
}

// finding is what is found on a day; nil where nothing is asked.
func (j *judging) finding(a ask, day int) *pb.Finding { return j.find(a, j.plan(day), j.endOf(day)) }

// findingNow is what is found at this moment; nil where nothing is asked.
func (j *judging) findingNow(a ask) *pb.Finding { return j.find(a, j.now, j.in.At) }

func (j *judging) find(a ask, plan *pb.GroupPlan, at time.Time) *pb.Finding {
	for _, finding := range readiness.Assess(j.book(a), j.subject, plan, at).GetFindings() {
		return finding
	}
	return nil
}

// book is the policy with only one thing to ask.
func (j *judging) book(a ask) readiness.Book {
	book := j.in.Book
	book.Rules = []readiness.Rule{a.rule}
	return book
}

// firstBroken is the first day from today on which something that is met now is not met. While the same circumstances
// hold nothing that was done comes to count again, so each run of such days is met up to some day and not met after it.
func (j *judging) firstBroken(a ask) (int, bool) {
	for _, s := range j.in.Days.spans {
		if !j.broken(a, s.to) {
			continue
		}
		lo, hi := s.from, s.to // broken at hi, and met before lo
		for lo < hi {
			if middle := (lo + hi) / 2; j.broken(a, middle) {
				hi = middle
			} else {
				lo = middle + 1
			}
		}
		return lo, true
	}
	return 0, false
}

// since is what can be told of how long something has not been met.
type since int8

const (
	sinceWhen     since = iota // nobody knows
	sinceDay                   // since a day
	sinceDeclared              // since the bike was first declared: before then the club asked nothing of it
)

// brokenSince is the first day of those up to today on which something has not been met without a break, counted from
// today, as far as can be told from the declaration and the care log. Of what was never declared nothing can, nor of the
// days before the bike was first declared.
func (j *judging) brokenSince(a ask, now *pb.Finding) (int, since) {
	if now.GetNotDeclared() {
		return 0, sinceWhen
	}
	created := j.in.Bike.GetCreatedAt()
	for day := -1; day >= -farthest; day-- {
		if created != nil && j.endOf(day).Before(created.AsTime()) {
			if j.in.Bike.GetDeclaration().GetRevision() > 1 { // what the first one said is not looked at: it may have been met then
				return 0, sinceWhen
			}
			return 0, sinceDeclared
		}
		if !j.broken(a, day) {
			return day + 1, sinceDay
		}
	}
	return 0, sinceWhen
}

// asked tells whether a rule is asked now or on any day ahead.
func (j *judging) asked(a ask) bool {
	return j.findingNow(a) != nil || slices.ContainsFunc(j.in.Days.spans, func(s span) bool { return j.finding(a, s.from) != nil })
}

// always is the rule, asked on every day.
func always(rule *pb.Rule) *pb.Rule {
	rule = proto.CloneOf(rule)
	rule.When, rule.Unless = []pb.Circumstance{pb.Circumstance_ALWAYS}, nil
	return rule
}
