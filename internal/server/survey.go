package server

import (
	"context"
	"errors"
	"time"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/ledger"
	pb "gritward/proto/gritward/v1"
)

// Survey is what the records say of how the service does.
type Survey struct {
	Clubs int
	// NoPolicy are the clubs without a policy in force, by id.
	NoPolicy []string
	// Queued is how many letters wait for the mail server, and Oldest since when the oldest of them does.
	Queued int
	Oldest time.Time
}

// TakeSurvey reads them. A club that cannot be read keeps no other from it.
func TakeSurvey(ctx context.Context, l *ledger.Ledger) (s Survey, err error) {
	clubs, err := l.Clubs(ctx)
	for _, club := range clubs {
		s.Clubs++
		err = errors.Join(err, l.View(ctx, club, func(tx *ledger.Tx) error { return s.add(tx) }))
	}
	return s, err
}

func (s *Survey) add(tx *ledger.Tx) error {
	_, zone, err := zoneOf(tx)
	if err != nil {
		return err
	}
	if _, err := tx.PeekPolicyOn(tx.Now.In(zone).Format(civil.DateLayout)); fault.Is(err, pb.Reason_NO_POLICY) {
		s.NoPolicy = append(s.NoPolicy, tx.Club)
	} else if err != nil {
		return err
	}
	queue, err := tx.Queue()
	for _, letter := range queue {
		s.Queued++
		if at := letter.QueuedAt.AsTime(); s.Oldest.IsZero() || at.Before(s.Oldest) {
			s.Oldest = at
		}
	}
	return err
}
