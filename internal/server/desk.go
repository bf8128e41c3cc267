package server

import (
	"context"
	"fmt"
	"time"

	"buf.build/go/protovalidate"

	"gritward/internal/care"
	"gritward/internal/civil"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/policy"
	"gritward/internal/readiness"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// desk is what the services share.
type desk struct {
	ledger    *ledger.Ledger
	validator protovalidate.Validator
	policies  *cache[*policy.Policy]
	checks    *cache[*pb.CheckPolicyResponse] // of whole files, by what they depend on
	plans     *cache[*pb.RidePlan]
	// pasts tell the recorded times apart that a ride is planned by.
	pasts  *cache[string]
	limits *cache[[]*pb.StartLimit]
	// members are lists of members.
	members asRead[*pb.ListMembersResponse]
	// going are those who go on rides.
	going asRead[[]roster.Entrant]
	// bases are those of the placements of rides, "": nobody has signed up.
	bases asRead[string]
	lines *cache[*pb.RouteLine]
	// lined are the timelines of rides, some hundred kB each.
	lined *cache[*roster.Timelines]
	// asked is what policies ask, taken apart, and days are plans of days without a ride under them.
	asked *cache[*care.Asked]
	days  *cache[*pb.GroupPlan]
	// ahead are such days from today on.
	ahead *cache[*care.Days]
	// explained are the places of riders, told why.
	explained *cache[*pb.Explanation]
	// placements are those of rides at which somebody looks.
	placements *cache[*pb.Placement]
	// madeAhead makes in pauses what was asked for; nil: nothing.
	madeAhead *Ahead
	// mail: there is a mail server to hand letters to.
	mail bool
	// memberID draws the id of a new member.
	memberID func() string
}

func newDesk(l *ledger.Ledger, validator protovalidate.Validator) *desk {
	return &desk{
		ledger: l, validator: validator,
		policies: newCache[*policy.Policy](16), checks: newCache[*pb.CheckPolicyResponse](8), plans: newCache[*pb.RidePlan](64), pasts: newCache[string](64),
		limits: newCache[[]*pb.StartLimit](64), lines: newCache[*pb.RouteLine](8), lined: newCache[*roster.Timelines](8), placements: newCache[*pb.Placement](16),
		asked: newCache[*care.Asked](8), ahead: newCache[*care.Days](8), days: newCache[*pb.GroupPlan](2000), explained: newCache[*pb.Explanation](256),
		members: newAsRead[*pb.ListMembersResponse](16), going: newAsRead[[]roster.Entrant](16), bases: newAsRead[string](64),
	}
}

// update runs a use case that writes, in the name of a caller who is let in still.
func (d *desk) update(ctx context.Context, who *caller, use func(*ledger.Tx) error) error {
	deepen(false)
	return d.ledger.Update(ctx, who.club, who.still(use))
}

// view runs a use case that reads, in the name of a caller who is let in still.
func (d *desk) view(ctx context.Context, who *caller, use func(*ledger.Tx) error) error {
	return d.ledger.View(ctx, who.club, who.still(use))
}

// zone is zoneOf.
func (d *desk) zone(tx *ledger.Tx) (*pb.Club, *time.Location, error) { return zoneOf(tx) }

// zoneOf is the club, and its time zone.
func zoneOf(tx *ledger.Tx) (*pb.Club, *time.Location, error) {
	club, err := tx.PeekClub()
	if err != nil {
		return nil, nil, err
	}
	zone, err := civil.Zone("club.zone", club.Zone)
	return club, zone, err
}

// policyOn gives the policy in force on the day of an instant in the club's zone, and its revision, without the text. The
// revision is shared: do not change it.
func (d *desk) policyOn(tx *ledger.Tx, at time.Time, zone *time.Location) (*policy.Policy, *pb.PolicyRevision, error) {
	revision, err := tx.PeekPolicyOn(at.In(zone).Format(civil.DateLayout))
	if err != nil {
		return nil, nil, err
	}
	read, err := d.policies.get(revision.Digest, func() (*policy.Policy, error) {
		whole, err := tx.Policy(revision.Number)
		if err != nil {
			return nil, err
		}
		read, problems := policy.Read(whole.File, []byte(whole.Text))
		if read == nil {
			return nil, fmt.Errorf("adopted policy %s cannot be read any more: %v", revision.Name, problems)
		}
		return read, nil
	})
	return read, revision, err
}

// ground is what a ride stands on: the club, the policy of its day, and its plan. All of it is shared: do not change it.
type ground struct {
	club     *pb.Club
	zone     *time.Location
	ride     *pb.Ride
	policy   *policy.Policy
	book     readiness.Book // of the policy
	revision *pb.PolicyRevision
	plan     *pb.RidePlan
	// now is the time of the transaction in the club's zone: the dates in findings are those of its location.
	now time.Time
}

// today tells a ride on a day apart from others: what is due ages by the day, and the zone says when that ends.
func (g *ground) today() string {
	return g.ride.Name + " " + g.now.Format(civil.DateLayout) + " " + g.zone.String()
}

// ground reads a ride and plans it.
func (d *desk) ground(tx *ledger.Tx, id string) (*ground, error) {
	g := &ground{}
	var err error
	if g.ride, err = tx.PeekRide(id); err != nil {
		return nil, err
	}
	if g.club, g.zone, err = d.zone(tx); err != nil {
		return nil, err
	}
	g.now = tx.Now.In(g.zone)
	if g.policy, g.revision, err = d.policyOn(tx, g.ride.StartAt.AsTime(), g.zone); err != nil {
		return nil, err
	}
	g.book = g.policy.Book()
	if g.plan, err = d.plan(tx, g.ride, g.policy, g.revision, g.zone); err == nil && g.ride.Forecast != nil {
		g.plan = aged(g.plan, g.ride, tx.Now)
	}
	return g, err
}

// plan plans a ride under the policy of its day, which has that revision. The plan is shared: do not change it.
func (d *desk) plan(tx *ledger.Tx, ride *pb.Ride, used *policy.Policy, revision *pb.PolicyRevision, zone *time.Location) (*pb.RidePlan, error) {
	key, err := d.planKey(tx, ride, revision, zone)
	if err != nil {
		return nil, err
	}
	return d.plans.get(key, func() (*pb.RidePlan, error) {
		past, err := pastTimes(tx, ride)
		if err != nil {
			return nil, err
		}
		line, err := tx.Route(names.Last(ride.Name))
		if err != nil {
			return nil, err
		}
		plan, err := roster.Plan(ride, line, used, zone, past)
		if err == nil {
			plan.PolicyNumber, plan.PolicyTitle = revision.Number, used.Title()
		}
		return plan, err
	})
}

// planKey tells apart all that the plan of a ride rests on. What came of a commit that was given up is kept as well, so that the number
// of a policy does not say which text it has.
func (d *desk) planKey(tx *ledger.Tx, ride *pb.Ride, revision *pb.PolicyRevision, zone *time.Location) (string, error) {
	mark, err := tx.TimesMark()
	if err != nil {
		return "", err
	}
	past, err := d.pasts.get(ride.Name+" "+ride.Etag+" "+mark, func() (string, error) {
		past, err := pastTimes(tx, ride)
		return pastKey(past), err
	})
	if err != nil {
		return "", err
	}
	return ride.Name + " " + ride.Etag + " " + revision.Name + " " + revision.Digest + " " + zone.String() + " " + past, nil
}

// measured is the line of a ride's route with what is measured along it. It is shared: do not change it.
func (d *desk) measured(tx *ledger.Tx, ride *pb.Ride) (*pb.RouteLine, error) {
	made := func() (*pb.RouteLine, error) {
		line, err := tx.Route(names.Last(ride.Name))
		if err != nil {
			return nil, err
		}
		measured, err := roster.MeasuredLine(line)
		if err == nil {
			measured.Digest = ride.GetRoute().GetDigest()
		}
		return measured, err
	}
	if digest := ride.GetRoute().GetDigest(); digest != "" {
		return d.lines.get(digest, made)
	}
	return made()
}
