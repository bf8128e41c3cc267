package server

import (
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// startLimits reckons how late each group of a ride may start before somebody who has signed up stands worse; nothing
// where nobody has. They are shared: do not change them.
func (d *desk) startLimits(tx *ledger.Tx, g *ground, ride string) ([]*pb.StartLimit, error) {
	basis, err := d.basis(tx, g)
	if err != nil || basis == "" {
		return nil, err
	}
	return d.limits.get(basis+" "+g.today(), func() ([]*pb.StartLimit, error) {
		entrants, err := d.entrants(tx, ride)
		if err != nil {
			return nil, err
		}
		lines, err := d.timelines(tx, g)
		if err != nil {
			return nil, err
		}
		return roster.StartLimits(lines, entrants, g.now)
	})
}

// basis is a digest of all that the placement of a ride rests on, see roster.Basis; "" where nobody has signed up.
func (d *desk) basis(tx *ledger.Tx, g *ground) (string, error) {
	return d.bases.get(tx, g.today(), func() (string, error) {
		entrants, err := d.entrants(tx, names.Last(g.ride.Name))
		if err != nil || len(entrants) == 0 {
			return "", err
		}
		return roster.Basis(roster.Input{Ride: g.ride, Plan: g.plan, Policy: g.policy, Entrants: entrants})
	})
}

// timelines are those that the plan of a ride was reckoned with. They are shared.
func (d *desk) timelines(tx *ledger.Tx, g *ground) (*roster.Timelines, error) {
	key, err := d.planKey(tx, g.ride, g.revision, g.zone)
	if err != nil {
		return nil, err
	}
	return d.lined.get(key, func() (*roster.Timelines, error) {
		line, err := tx.Route(names.Last(g.ride.Name))
		if err != nil {
			return nil, err
		}
		past, err := pastTimes(tx, g.ride)
		if err != nil {
			return nil, err
		}
		return roster.NewTimelines(g.ride, line, g.policy, g.zone, past)
	})
}
