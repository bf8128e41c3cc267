package server

import (
	"context"
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/policy"
	"gritward/internal/readiness"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// PreviewPolicy implements PolicyService. It reads bike after bike and ride after ride, and keeps only what it lists.
func (s *policyService) PreviewPolicy(ctx context.Context, request *pb.PreviewPolicyRequest) (*pb.PreviewPolicyResponse, error) {
	who := callerOf(ctx)
	if _, err := names.In(who.club, "parent", request.Parent, names.ClubShape); err != nil {
		return nil, err
	}
	p := &preview{desk: s.desk, ctx: ctx, response: &pb.PreviewPolicyResponse{}, most: int(request.Most)}
	if p.most == 0 {
		p.most = 1000
	}
	err := s.view(ctx, who, func(tx *ledger.Tx) error {
		read, problems, err := s.readPolicy(tx, request.File, request.Content)
		if err != nil {
			return err
		}
		if read == nil {
			return policyFault(problems)
		}
		p.response.Warnings, p.after = problems, read
		return p.run(tx, request.EffectiveFrom)
	})
	if err != nil {
		return nil, err
	}
	return p.response, nil
}

// preview looks at all that a policy would touch.
type preview struct {
	*desk
	ctx      context.Context
	after    *policy.Policy
	zone     *time.Location
	now      time.Time
	most     int
	response *pb.PreviewPolicyResponse
}

func (p *preview) run(tx *ledger.Tx, from string) (err error) {
	if _, p.zone, err = p.desk.zone(tx); err != nil {
		return err
	}
	p.now = tx.Now.In(p.zone)
	day := p.now
	if from != "" {
		if _, err := civil.Date("effective_from", from); err != nil {
			return err
		}
		if from > p.now.Format(civil.DateLayout) {
			day, err = time.ParseInLocation(civil.DateLayout+" 15:04", from+" 12:00", p.zone)
			if err != nil {
				return err
			}
		}
	}
	if err := p.bikes(tx, day); err != nil {
		return err
	}
	return p.rides(tx, day.Format(civil.DateLayout))
}

// inForce is the policy in force on a day, with its revision; nil when there is none.
func (p *preview) inForce(tx *ledger.Tx, at time.Time) (*policy.Policy, *pb.PolicyRevision, error) {
	used, revision, err := p.policyOn(tx, at, p.zone)
	if fault.Is(err, pb.Reason_NO_POLICY) {
		return nil, nil, nil
	}
	return used, revision, err
}

// situation is one group, or one kind of day, under the policy in force and under the file.
type situation struct {
	ride, group   string
	before, after *view // before is nil where no policy is in force
}

// view is how a policy sees a group. The book is fetched once, for all bikes.
type view struct {
	book readiness.Book
	plan *pb.GroupPlan
}

// bikes assesses every bike in use by day and after dark.
func (p *preview) bikes(tx *ledger.Tx, day time.Time) error {
	before, _, err := p.inForce(tx, day)
	if err != nil {
		return err
	}
	var days []situation
	for _, kind := range []struct {
		name   string
		litMin float64
	}{{"by day", 0}, {"after dark", afterDarkMin}} {
		one := situation{group: kind.name}
		if before != nil {
			if one.before, err = p.onDay(before, day, kind.litMin); err != nil {
				return err
			}
		}
		if one.after, err = p.onDay(p.after, day, kind.litMin); err != nil {
			return err
		}
		days = append(days, one)
	}
	return tx.Bikes(names.Any, "", 0, func(bike *pb.Bike) error {
		if bike.RetiredAt != nil {
			return nil
		}
		if err := p.ctx.Err(); err != nil {
			return err
		}
		subject, err := subjectOf(tx, bike)
		if err != nil {
			return err
		}
		p.response.BikesSeen++
		changed := false
		for _, one := range days {
			changed = p.look(&p.response.Bikes, one, subject) || changed
		}
		if changed {
			p.response.BikesChanged++
		}
		return nil
	})
}

// onDay is how a policy sees a day without a ride in that day's season, but starting now: else every declaration would be
// too old on a day far ahead, and nothing of the policy would show.
func (p *preview) onDay(used *policy.Policy, day time.Time, litMin float64) (*view, error) {
	plan, err := roster.Day(used, p.zone, day, litMin, false)
	if err != nil {
		return nil, err
	}
	plan.StartAt = timestamppb.New(p.now)
	return &view{book: used.Book(), plan: plan}, nil
}

// look holds a bike's standing against what it would be; true when it would change. The change is added to a list while
// there is room for it; only then the rules that make it are looked for, which takes far longer.
func (p *preview) look(list *[]*pb.StandingChange, one situation, subject readiness.Subject) bool {
	from, to := pb.Standing_STANDING_UNSPECIFIED, one.after.standing(subject, p.now)
	if one.before != nil {
		from = one.before.standing(subject, p.now)
	}
	if from == to {
		return false
	}
	if len(*list) < p.most {
		*list = append(*list, &pb.StandingChange{Bike: subject.Bike, Ride: one.ride, Group: one.group, From: from, To: to,
			Rules: p.rules(one, subject, from, to)})
	}
	return true
}

// rules names the rules that make a change of standing.
func (p *preview) rules(one situation, subject readiness.Subject, from, to pb.Standing) (rules []string) {
	var was []*pb.Finding
	if one.before != nil {
		was = one.before.findings(subject, p.now)
	}
	is := one.after.findings(subject, p.now)
	decisive, other := is, was
	if to < from {
		decisive, other = was, is
	}
	for _, finding := range decisive {
		if finding.Standing > min(from, to) && finding.Standing > pb.Standing_CLEAR && !holdsStill(other, finding) {
			rules = append(rules, finding.Rule)
		}
	}
	return rules
}

func (v *view) standing(subject readiness.Subject, now time.Time) pb.Standing {
	return readiness.Standing(v.book, subject, v.plan, now)
}

func (v *view) findings(subject readiness.Subject, now time.Time) []*pb.Finding {
	return readiness.Assess(v.book, subject, v.plan, now).Findings
}

// holdsStill tells whether the other policy has the same rule cost the same.
func holdsStill(findings []*pb.Finding, finding *pb.Finding) bool {
	return slices.ContainsFunc(findings, func(other *pb.Finding) bool {
		return other.Rule == finding.Rule && other.Standing == finding.Standing
	})
}

// rides assesses every rider on a ride to come that the file would count for.
func (p *preview) rides(tx *ledger.Tx, from string) error {
	return tx.RidesStarting(tx.Now, time.Time{}, func(ride *pb.Ride) error {
		over := ride.State == pb.Ride_CALLED_OFF || ride.State == pb.Ride_CLOSED || !ride.StartAt.AsTime().After(tx.Now)
		if over || ride.StartLocal[:len(civil.DateLayout)] < from {
			return nil
		}
		if err := p.ctx.Err(); err != nil {
			return err
		}
		return p.riders(tx, ride)
	})
}

// riders assesses the riders of one ride in each of its groups.
func (p *preview) riders(tx *ledger.Tx, ride *pb.Ride) error {
	id := names.Last(ride.Name)
	line, err := tx.Route(id)
	if err != nil {
		return err
	}
	past, err := pastTimes(tx, ride)
	if err != nil {
		return err
	}
	after, err := roster.Plan(ride, line, p.after, p.zone, past)
	if err != nil {
		return err
	}
	groups, book := make([]situation, len(after.Groups)), p.after.Book()
	for i, group := range after.Groups {
		groups[i] = situation{ride: ride.Name, group: group.Group, after: &view{book, group}}
	}
	before, revision, err := p.inForce(tx, ride.StartAt.AsTime())
	if err != nil {
		return err
	}
	if before != nil {
		now, err := p.plan(tx, ride, before, revision, p.zone)
		if err != nil {
			return err
		}
		book := before.Book()
		for i := range groups {
			groups[i].before = &view{book, now.Groups[i]}
		}
	}
	entrants, err := p.entrants(tx, id)
	for _, entrant := range entrants {
		subject := entrant.Subject()
		for _, one := range groups {
			p.response.RidersSeen++
			if p.look(&p.response.Riders, one, subject) {
				p.response.RidersChanged++
			}
		}
	}
	return err
}
