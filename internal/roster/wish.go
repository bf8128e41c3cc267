package roster

import (
	"context"
	"math"

	"gritward/internal/placement"
	pb "gritward/proto/gritward/v1"
)

// band is the paces that a rider rides with comfort, km/h: those of the member, else that of the group wished for, so that
// a wish for a slow group is not overruled as if every pace suited. 0, 0 where neither is known.
func (s *seating) band(id string) (minKmh, maxKmh float64) {
	entrant := s.entrants[id]
	minKmh, maxKmh = entrant.Member.PaceMinKmh, entrant.Member.PaceMaxKmh
	if minKmh > 0 || maxKmh > 0 {
		return minKmh, maxKmh
	}
	for _, group := range s.in.Ride.Groups {
		if group.Id == entrant.Signup.GetPreferredGroup() {
			return group.PaceKmh, group.PaceKmh
		}
	}
	return 0, 0
}

// paceKnown tells whether a rider has stated a pace, or wished for a group with one.
func (s *seating) paceKnown(id string) bool {
	minKmh, maxKmh := s.band(id)
	return minKmh > 0 || maxKmh > 0
}

// paceOff is how far a pace lies outside a rider's band, km/h.
func (s *seating) paceOff(id string, paceKmh float64) float64 {
	minKmh, maxKmh := s.band(id)
	off := 0.0
	switch {
	case maxKmh > 0 && paceKmh > maxKmh:
		off = paceKmh - maxKmh
	case paceKmh < minKmh:
		off = paceKmh - minKmh
	}
	return math.Round(off*10) / 10
}

// trialWork bounds how often everybody is placed anew to tell why riders moved and why wishes are not met, in riders times
// groups: 63 times for 200 riders and eight groups, eleven times for 1,000 and ten, and riders who are alike share a time.
const trialWork = 100_000

// noBetter tells, where no more is known, why riders are where they are.
func noBetter(proven bool) string {
	if proven {
		return "no placement with the rider there serves the riders better as a whole"
	}
	return "no better placement with the rider there is known"
}

// unsure tells what is known of a group where the search ended before the best was found, with the rider in it or not.
func unsure(best placement.Objective, option placement.Option) string {
	if option.Possible && option.Objective.Better(best) {
		return "might serve the riders better as a whole: the search ended before the best placement was found"
	}
	return noBetter(false)
}

// wished counts the wishes of those who could be placed, and tells of each rider in another group than the one wished for
// why.
func (s *seating) wished(ctx context.Context, placed *pb.Placement, result placement.Result) error {
	for _, id := range s.order {
		if s.titles[s.entrants[id].Signup.PreferredGroup] != "" {
			placed.Wishes++
		}
	}
	for _, group := range placed.Groups {
		for _, rider := range ridersOf(group) {
			id := riderID(rider.Member)
			wish := s.entrants[id].Signup.PreferredGroup
			if wish == group.Group || s.titles[wish] == "" {
				continue
			}
			rider.WishedTitle = s.titles[wish]
			var err error
			if rider.WishedWhy, err = s.wishWhy(ctx, id, wish, result); err != nil {
				return err
			}
		}
	}
	return nil
}

// wishWhy says why a rider who has a place is not in the group wished for, without names and bikes of others: the roster is
// open to the club. What can be seen is told; else everybody is placed anew with the rider there, within trialWork.
func (s *seating) wishWhy(ctx context.Context, id, wish string, result placement.Result) (string, error) {
	if pin := s.pin(id); pin != nil {
		return "the leader fixed it: " + stop(pin.Reason), nil
	}
	if s.standing(id, wish) == pb.Standing_HELD {
		return holdWords(s.assessment(id, wish)) + ", so the bike is held", nil
	}
	for _, group := range result.Groups {
		switch {
		case group.ID != wish:
		case !group.Runs:
			return "it does not run", nil
		case len(group.Riders) >= s.groupOf(wish).MaxSize:
			return "it is full", nil
		}
	}
	option, tried, err := s.trials.Option(ctx, id, wish)
	if err != nil || !tried {
		return noBetter(result.Proven), err
	}
	e := &explainer{teller: teller{seating: s, viewer: id}, ctx: ctx, result: result, id: id, rides: ridesIn(result)}
	return e.option(s.in.Plan.Groups[s.planned(wish)], option).Words, nil
}
