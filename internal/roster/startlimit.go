package roster

import (
	"fmt"
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/daylight"
	"gritward/internal/pace"
	"gritward/internal/readiness"
	"gritward/internal/sun"
	pb "gritward/proto/gritward/v1"
)

// StartLimits tells for each group of a ride how late it may start before one of the entrants stands worse in it. Those
// who may not ride at all do not count.
func StartLimits(lines *Timelines, entrants []Entrant, now time.Time) ([]*pb.StartLimit, error) {
	riders := slices.DeleteFunc(slices.Clone(entrants), func(e Entrant) bool { return barred(e) != "" })
	var limits []*pb.StartLimit
	for _, group := range lines.planner.ride.Groups {
		limit, err := lines.startLimit(group, riders, now)
		if err != nil {
			return nil, fmt.Errorf("group %s: %w", group.Id, err)
		}
		for _, one := range limit.Worse {
			one.Rules = nil // findings of others are told only in rosters
		}
		limits = append(limits, limit)
	}
	return limits, nil
}

// startLimits adds to each group of a placement how late it may start.
func (s *seating) startLimits(groups []*pb.RosterGroup) error {
	lines, err := s.in.Timelines, error(nil)
	switch {
	case lines != nil:
	case s.in.Line == nil:
		return nil
	default:
		if lines, err = NewTimelines(s.in.Ride, s.in.Line, s.in.Policy, s.in.Now.Location(), s.in.Past); err != nil {
			return err
		}
	}
	for _, placed := range groups {
		var riders []Entrant
		for _, rider := range ridersOf(placed) {
			riders = append(riders, s.entrants[riderID(rider.Member)])
		}
		at := slices.IndexFunc(s.in.Ride.Groups, func(g *pb.Group) bool { return g.Id == placed.Group })
		if placed.StartLimit, err = lines.startLimit(s.in.Ride.Groups[at], riders, s.in.Now); err != nil {
			return fmt.Errorf("group %s: %w", placed.Group, err)
		}
	}
	return nil
}

// lookEvery cuts the search into cells. Standing is sought by pieces, see startLimit; the cells keep a rule in the club's own
// words, which may be of any form, from coming and going unseen for longer, and the seeking short where the weather changes.
// Without either, the rest of the day is one cell.
const lookEvery = 15 * time.Minute

// startLimit seeks the latest start by pieces. What a standing rests on changes at instants that can be worked out: the
// start or the home passes a change of the weather, or the edge of dark or of needing lights where it then is. Between
// those each rule is monotone in the start: the minutes with lights only shrink (started in the dark) or only grow (home
// in the dark), a declaration only ages, the rest stays. So trying the ends of each piece and bisecting the first that
// fails finds the second; see daylight.Latest.
func (t *Timelines) startLimit(group *pb.Group, riders []Entrant, now time.Time) (*pb.StartLimit, error) {
	l := &limiter{planner: t.planner, judging: &t.judged, group: group, now: now, riders: riders, planned: t.planner.startOf(group), book: t.planner.policy.Book(),
		base: t.groups[group.Id].timeline, pastTimes: t.groups[group.Id].past}
	for _, rider := range riders {
		l.keys = append(l.keys, keyOf(rider, now))
	}
	l.ownWords = slices.ContainsFunc(l.book.Rules, func(rule readiness.Rule) bool { return rule.GetExpression() != "" })
	var err error
	if l.season, err = seasonFrom(l.policy, l.planned, l.zone); err != nil {
		return nil, err
	}
	before, _, err := l.standings(l.planned)
	if err != nil {
		return nil, err
	}
	l.before, l.well = before, l.planned
	limit := &pb.StartLimit{Group: group.Id, Riders: int32(len(riders))}
	if len(riders) == 0 {
		return limit, nil
	}
	y, m, d := l.planned.Date()
	last := time.Date(y, m, d+1, 0, 0, 0, 0, l.zone).Add(-time.Second)
	cell := lookEvery
	if !l.ownWords && len(l.spells) <= 1 {
		cell = last.Sub(l.planned)
	}
	for from := l.planned; from.Before(last); from = from.Add(cell) {
		to := from.Add(cell)
		if to.After(last) {
			to = last
		}
		breaks, err := l.judging.between(span{group.Id, from.UnixNano(), to.UnixNano()}, func() ([]time.Time, error) { return l.breaks(from, to) })
		if err != nil {
			return nil, err
		}
		latest, _, err := daylight.Latest(from, to, breaks, l.nobodyWorse)
		if err != nil {
			return nil, err
		}
		if latest.Before(to) {
			limit.LatestStartAt = timestamppb.New(latest)
			limit.Worse, err = l.worse(latest.Add(time.Second))
			return limit, err
		}
	}
	return limit, nil
}

// limiter seeks the latest start of one group.
type limiter struct {
	*planner
	judging   *judged
	group     *pb.Group
	riders    []Entrant
	keys      []string // of the riders; see keyOf
	now       time.Time
	planned   time.Time
	book      readiness.Book
	ownWords  bool           // some rule is in the club's own words
	season    string         // the first day of the season that the day lies in
	base      *pace.Timeline // at the planned start
	pastTimes *pb.PastTimes
	before    []pb.Standing // of each rider at the planned start
	well      time.Time     // a start found good: a cell begins where the one before ended
}

// at is the group's ride from a start. In weather that never changes it is the same ride, moved.
func (l *limiter) at(start time.Time) (*pace.Timeline, error) {
	if len(l.spells) <= 1 {
		return l.base.Shift(start.Sub(l.planned)), nil
	}
	timeline, _, err := l.timeline(l.group, start)
	return timeline, err
}

// plan is the group's plan from a start, or as much of it as standings rest on. A rule in the club's own words may rest on
// anything.
func (l *limiter) plan(start time.Time) (*pb.GroupPlan, error) {
	if l.ownWords {
		timeline, err := l.at(start)
		if err != nil {
			return nil, err
		}
		return l.planOf(l.group, timeline, l.pastTimes)
	}
	timeline, later := l.base, start.Sub(l.planned)
	if len(l.spells) > 1 {
		var err error
		if timeline, err = l.at(start); err != nil {
			return nil, err
		}
		later = 0
	}
	return l.judged(timeline, later)
}

// judged is as much of the group's plan as the checks look at, rules in the club's own words aside. The group sets off later by
// so much than the timeline has it.
func (l *limiter) judged(timeline *pace.Timeline, later time.Duration) (*pb.GroupPlan, error) {
	start, home := timeline.Start().Add(later), timeline.Home().Add(later)
	planned := &pb.GroupPlan{Group: l.group.Id, Title: titleOf(l.group), StartAt: timestamppb.New(start), HomeAt: timestamppb.New(home)}
	lit, byTheSun, err := daylight.Lit(timeline, later, darkRule(l.policy), l.poorUntil(home))
	if err != nil {
		return nil, err
	}
	planned.LitMin = lit.Minutes()
	l.weather(planned)
	l.circumstancesOf(planned, start, home, l.season, byTheSun > 0)
	return planned, nil
}

// standings says how the riders' bikes stand from a start, in the plan that it gives, too.
func (l *limiter) standings(start time.Time) ([]pb.Standing, *pb.GroupPlan, error) {
	return l.judging.standings(l.book, setOff{l.group.Id, start.UnixNano()}, l.riders, l.keys, l.now, func() (*pb.GroupPlan, error) { return l.plan(start) })
}

func (l *limiter) nobodyWorse(start time.Time) (bool, error) {
	if start.Equal(l.well) {
		return true, nil
	}
	after, _, err := l.standings(start)
	for i := range after {
		if after[i] > l.before[i] {
			return false, err
		}
	}
	if err == nil {
		l.well = start
	}
	return err == nil, err
}

// worse tells who stands worse at a start, and by which rules.
func (l *limiter) worse(start time.Time) ([]*pb.Worsening, error) {
	stand, plan, err := l.standings(start)
	if err != nil {
		return nil, err
	}
	var all []*pb.Worsening
	for i, rider := range l.riders {
		if stand[i] <= l.before[i] {
			continue
		}
		after := readiness.Assess(l.book, rider.Subject(), plan, l.now)
		one := &pb.Worsening{
			Member: rider.Member.Name, DisplayName: rider.Member.DisplayName, Before: l.before[i], After: after.Standing}
		for _, finding := range after.Findings {
			if finding.Standing > l.before[i] {
				one.Rules = append(one.Rules, finding.Rule)
			}
		}
		all = append(all, one)
	}
	return all, nil
}

// breaks are the starts from one to another at which what standings rest on changes its course.
func (l *limiter) breaks(from, to time.Time) ([]time.Time, error) {
	first, second := l.base.Instants[0], l.base.Instants[len(l.base.Instants)-1]
	breaks, err := l.edges(first, from, to)
	if err != nil {
		return nil, err
	}
	homeFrom, err := l.home(from)
	if err != nil {
		return nil, err
	}
	homeTo, err := l.home(to)
	if err != nil {
		return nil, err
	}
	homes, err := l.edges(second, homeFrom, homeTo)
	for _, home := range homes {
		start, err := l.startFor(home, from, to)
		if err != nil {
			return nil, err
		}
		breaks = append(breaks, start)
	}
	return breaks, err
}

// edges are the changes of the weather, and of the light at a place, from one instant to another.
func (l *limiter) edges(place pace.Instant, from, to time.Time) ([]time.Time, error) {
	fog := poor(l.spells, l.policy.PoorVisibilityBelowM(), to.Add(24*time.Hour))
	edges, err := daylight.Edges(sun.Place{LatDeg: place.LatDeg, LonDeg: place.LonDeg}, darkRule(l.policy), fog, from, to)
	for _, s := range l.spells {
		if s.from.After(from) && !s.from.After(to) {
			edges = append(edges, s.from)
		}
	}
	return edges, err
}

// home is when the group is home from a start.
func (l *limiter) home(start time.Time) (time.Time, error) {
	if len(l.spells) <= 1 {
		return l.base.Home().Add(start.Sub(l.planned)), nil
	}
	timeline, err := l.at(start)
	if err != nil {
		return time.Time{}, err
	}
	return timeline.Home(), nil
}

// startFor is the start, from one to another, that brings the group home at an instant. Who starts later is home later.
func (l *limiter) startFor(home, from, to time.Time) (time.Time, error) {
	if len(l.spells) <= 1 {
		return l.planned.Add(home.Sub(l.base.Home())), nil
	}
	start, _, err := daylight.Latest(from, to, nil, func(start time.Time) (bool, error) {
		there, err := l.home(start)
		return err == nil && !there.After(home), err
	})
	return start, err
}
