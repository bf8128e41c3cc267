package roster

import (
	"context"
	"slices"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/fault"
	"gritward/internal/placement"
	pb "gritward/proto/gritward/v1"
)

// Asked is a pin that the leader asks for: of a rider, or of a group.
type Asked struct {
	// Member is the rider's name; "" for a group.
	Member string
	Group  string
	// Runs: the group is to run. Without meaning for a rider.
	Runs bool
	// Reason is why the rules in the way are set aside; "" to be refused by them.
	Reason string
	// HeldBikeRides: who asks has seen what holds the rider's bike. Without it no rule that holds it is set aside.
	HeldBikeRides bool
	// By is who asks.
	By string
}

// PinRider checks a pin of a rider against the hard rules, all pins that hold now kept, and gives what was set aside for it.
// HELD_BIKE or WRONG_STATE with what is in the way when it cannot be.
func PinRider(ctx context.Context, in Input, asked Asked) ([]*pb.Override, error) {
	c := &pinCheck{ctx: ctx, in: in, asked: asked, wish: placement.Constraint{Kind: placement.Rides, Rider: riderID(asked.Member)}}
	c.in.Entrants = slices.Clone(in.Entrants)
	i := slices.IndexFunc(c.in.Entrants, func(e Entrant) bool { return e.Member.Name == asked.Member })
	if i < 0 {
		return nil, fault.New(pb.Reason_NOT_FOUND, "%s is not signed up for the ride", asked.Member)
	}
	if why := barred(in.Entrants[i]); why != "" {
		return nil, fault.New(pb.Reason_WRONG_STATE, "%s", why)
	}
	if in.Entrants[i].Signup.State != pb.Signup_IN {
		return nil, fault.New(pb.Reason_WRONG_STATE, "%s waits for a place on the ride and cannot be fixed in a group", in.Entrants[i].Member.DisplayName)
	}
	c.put = func(sets []*pb.Override) {
		c.in.Entrants[i].Signup = proto.Clone(in.Entrants[i].Signup).(*pb.Signup)
		c.in.Entrants[i].Signup.Pin = &pb.Pin{Group: asked.Group, Overrides: sets}
	}
	return c.run()
}

// PinGroup is PinRider for a group: that it runs, or that it does not, which no rule is against.
func PinGroup(ctx context.Context, in Input, asked Asked) ([]*pb.Override, error) {
	if !asked.Runs {
		return nil, nil
	}
	c := &pinCheck{ctx: ctx, in: in, asked: asked, wish: placement.Constraint{Kind: placement.Runs, Group: asked.Group}}
	c.put = func(sets []*pb.Override) {
		c.in.Ride = proto.Clone(in.Ride).(*pb.Ride)
		others := slices.DeleteFunc(c.in.Ride.GroupPins, func(pin *pb.GroupPin) bool { return pin.Group == asked.Group })
		c.in.Ride.GroupPins = append(others, &pb.GroupPin{Group: asked.Group, Runs: true, Overrides: sets})
	}
	return c.run()
}

// pinCheck tries a pin with more and more set aside.
type pinCheck struct {
	ctx   context.Context
	in    Input
	asked Asked
	wish  placement.Constraint
	put   func(sets []*pb.Override) // puts the pin, with what is set aside, into the input
	sets  []*pb.Override
}

// maxSets bounds how much is set aside for one pin.
const maxSets = 20

func (c *pinCheck) run() ([]*pb.Override, error) {
	others, err := c.others()
	for err == nil {
		c.put(c.sets)
		s := newSeating(c.in)
		s.asked = placement.With(s.problem(true), append(slices.Clone(others), c.wish)...)
		conflict, failed := placement.FindConflict(c.ctx, s.asked)
		if err = failed; err != nil {
			break
		}
		if len(conflict.Constraints) == 0 {
			return c.sets, nil
		}
		more := c.setAside(s, conflict.Constraints)
		held := len(more) > 0 && more[0].Rule != ""
		if c.asked.Reason == "" || len(more) == 0 || len(c.sets) >= maxSets {
			refused := c.refusal(s, conflict.Constraints, len(more) > 0)
			if held && len(c.sets) < maxSets {
				refused.Reason = pb.Reason_HELD_BIKE
			}
			return nil, refused
		}
		if held && !c.asked.HeldBikeRides {
			refused := c.refusal(s, conflict.Constraints, true)
			refused.Reason = pb.Reason_HELD_BIKE
			refused.Message = "the bike is held, since what is wrong with it is dangerous; look at it with the rider, " +
				"and confirm that you have seen it and that it rides all the same, or leave it"
			return nil, refused
		}
		c.sets = append(c.sets, more...)
	}
	return nil, err
}

// others are the pins that hold without this one.
func (c *pinCheck) others() ([]placement.Constraint, error) {
	s := newSeating(c.in)
	result, err := s.solve(c.ctx)
	rides := ridesIn(result)
	return slices.DeleteFunc(s.wishes(), func(w placement.Constraint) bool {
		holds := w.Rider != "" && rides[w.Rider] != "" ||
			slices.ContainsFunc(result.Groups, func(g placement.GroupResult) bool { return g.ID == w.Group && g.Runs })
		return w == c.wish || !holds
	}), err
}

// setAside is what of a conflict the leader can set aside for this pin: the first of what is the rider's own, then of what
// is the group's.
func (c *pinCheck) setAside(s *seating, conflict []placement.Constraint) []*pb.Override {
	limits := map[placement.ConstraintKind]pb.Override_Limit{
		placement.WithGuardian: pb.Override_GUARDIAN, placement.Together: pb.Override_PARTY,
		placement.BackPlacesOf: pb.Override_BACK_PLACES, placement.AtMost: pb.Override_SIZE, placement.AtLeast: pb.Override_LEAST,
		placement.NeedsLeader: pb.Override_LEADER, placement.NeedsBackMarker: pb.Override_BACK_MARKER,
	}
	for _, one := range conflict {
		if one.Kind == placement.HeldIn && one.Rider == c.wish.Rider && one.Group == c.asked.Group {
			return c.rules(s, one)
		}
		limit, can := limits[one.Kind]
		own := one.Group == c.asked.Group || one.Rider != "" && one.Rider == c.wish.Rider ||
			one.Party != "" && one.Party == s.entrants[c.wish.Rider].Signup.GetParty()
		shut := one.Kind == placement.AtMost && s.groupPin(one.Group) != nil && !s.groupPin(one.Group).Runs
		if can && own && !shut && !c.gone(limit) {
			return []*pb.Override{c.override(s, &pb.Override{Limit: limit})}
		}
	}
	return nil
}

// gone tells whether a limit is set aside already: one place more can be set aside again, the others are away.
func (c *pinCheck) gone(limit pb.Override_Limit) bool {
	again := limit == pb.Override_SIZE || limit == pb.Override_BACK_PLACES
	return !again && slices.ContainsFunc(c.sets, func(set *pb.Override) bool { return set.Limit == limit })
}

// rules are the rules that hold a rider's bike in the group.
func (c *pinCheck) rules(s *seating, held placement.Constraint) []*pb.Override {
	var sets []*pb.Override
	for _, finding := range s.assessment(held.Rider, held.Group).GetFindings() {
		if finding.Standing == pb.Standing_HELD {
			sets = append(sets, c.override(s, &pb.Override{Rule: finding.Rule,
				DeclarationRevision: s.entrants[held.Rider].Bike.GetDeclaration().GetRevision()}))
		}
	}
	return sets
}

func (c *pinCheck) override(s *seating, set *pb.Override) *pb.Override {
	set.What = limitWords[set.Limit] + s.titles[c.asked.Group]
	if set.Rule != "" {
		set.What = "the rule " + set.Rule + " in " + s.titles[c.asked.Group]
	}
	set.Member, set.Group, set.Reason, set.By, set.At = c.asked.Member, c.asked.Group, c.asked.Reason, c.asked.By, timestamppb.New(c.in.Now)
	return set
}

// refusal says what is in the way of a pin.
func (c *pinCheck) refusal(s *seating, conflict []placement.Constraint, can bool) *fault.Error {
	message := "hard rules are in the way, and none of them can be set aside for it"
	if can {
		message = "hard rules are in the way; give a reason to set them aside, or leave it"
	}
	made := fault.New(pb.Reason_WRONG_STATE, "%s", message)
	t := teller{seating: s}
	for _, one := range conflict {
		wish := one == c.wish || one.Kind == placement.PinnedTo && one.Rider == c.wish.Rider
		if !wish {
			made.Limits = append(made.Limits, fault.Limit{ID: c.asked.Group, What: t.words(one)})
		}
	}
	return made
}

// limitWords say what is set aside, up to the title of the group.
var limitWords = map[pb.Override_Limit]string{
	pb.Override_SIZE: "the most riders of ", pb.Override_BACK_PLACES: "the back places of ", pb.Override_LEAST: "the least riders of ",
	pb.Override_LEADER: "the need for a leader in ", pb.Override_BACK_MARKER: "the need for a back marker in ",
	pb.Override_GUARDIAN: "the need to ride with the guardian, for a place in ", pb.Override_PARTY: "riding with the party, for a place in ",
}
