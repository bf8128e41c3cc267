package server

import (
	"context"
	"fmt"
	"time"

	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// AddressOf is addressOf, for the tests.
var AddressOf = addressOf

// Missed are the rides of a club that are not on the agenda though there is somebody to tell of who is overdue.
func Missed(tx *ledger.Tx, l *ledger.Ledger) (missed []string) {
	due, err := l.Due(context.Background(), ledger.DueRide, time.Time{}, tx.Now)
	watched := map[string]bool{}
	for _, one := range due {
		watched[one.Club+" "+one.ID] = true
	}
	d := newDesk(l, nil)
	if err == nil {
		err = tx.RidesStarting(tx.Now.Add(-ledger.WatchReach), tx.Now.Add(time.Second), func(ride *pb.Ride) error {
			found, err := d.lookedAt(tx, ledger.Due{ID: names.Last(ride.Name), At: ride.StartAt.AsTime()})
			if err == nil && len(found.notices)+found.overdue > 0 && !watched[tx.Club+" "+names.Last(ride.Name)] {
				missed = append(missed, ride.Name)
			}
			return nil
		})
	}
	if err != nil {
		missed = append(missed, err.Error())
	}
	return missed
}

// State tells how many answers are kept, and of which states of the store those are that hold for one alone: it changes with whatever is
// made or read anew.
func (a *Ahead) State() string {
	a.desk.bases.things.mu.Lock()
	defer a.desk.bases.things.mu.Unlock()
	told := fmt.Sprint(len(a.desk.placements.values), " placed, ", len(a.desk.limits.values), " with limits, ", len(a.desk.explained.values), " told why, of the states")
	for _, ride := range a.desk.bases.things.values {
		told += fmt.Sprint(" ", ride.version)
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	return fmt.Sprint(told, ", ", len(a.wants), " wanted")
}

// Asked is asked.
func (a *Ahead) Asked(tx *ledger.Tx, what string, make func(context.Context, *ledger.Tx) error) {
	a.asked(tx, what, make)
}

// Planner plans rides as one server does, one after the other.
func Planner(l *ledger.Ledger) func(tx *ledger.Tx, ride string) (*pb.RidePlan, error) {
	d := newDesk(l, nil)
	return func(tx *ledger.Tx, ride string) (*pb.RidePlan, error) {
		g, err := d.ground(tx, ride)
		if err != nil {
			return nil, err
		}
		return g.plan, nil
	}
}
