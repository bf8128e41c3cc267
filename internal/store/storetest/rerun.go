package storetest

import (
	"context"
	"errors"

	"gritward/internal/store"
)

// Rerun is a store that runs what it is handed in every Update twice, the first time in vain, as an engine does that lost a
// race: use that keeps something from the first run shows in what the tests beside it look at.
func Rerun(s store.Store) store.Store { return &rerun{s} }

type rerun struct{ store.Store }

// errAgain ends the run in vain.
var errAgain = errors.New("storetest: this run does not count")

// Update implements store.Store. A run that fails is as final as it would be alone.
func (r *rerun) Update(ctx context.Context, club string, use func(store.Tx) error) error {
	err := r.Store.Update(ctx, club, func(tx store.Tx) error {
		if err := use(tx); err != nil {
			return err
		}
		return errAgain
	})
	if err != errAgain {
		return err
	}
	return r.Store.Update(ctx, club, use)
}
