package server

import (
	"context"
	"errors"
	"slices"
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

// TakeSurvey reads them: of each club that has something to tell, and nothing of the others. A club that cannot be read keeps no
// other from it.
func TakeSurvey(ctx context.Context, l *ledger.Ledger) (s Survey, err error) {
	clubs, err := l.Clubs(ctx)
	if err != nil {
		return s, err
	}
	s.Clubs = len(clubs)
	unruled, err := l.Unruled(ctx)
	for _, club := range unruled {
		err = errors.Join(err, l.View(ctx, club, s.addUnruled))
	}
	letters, failed := l.Due(ctx, ledger.DueLetter, time.Time{}, time.Time{})
	err, s.Queued = errors.Join(err, failed), len(letters)
	for _, club := range clubsOf(letters) {
		err = errors.Join(err, l.View(ctx, club, s.addQueue))
	}
	return s, err
}

// clubsOf are the clubs in which something is due, each once.
func clubsOf(due []ledger.Due) (clubs []string) {
	for _, one := range due {
		clubs = append(clubs, one.Club)
	}
	slices.Sort(clubs)
	return slices.Compact(clubs)
}

func (s *Survey) addUnruled(tx *ledger.Tx) error {
	_, zone, err := zoneOf(tx)
	if err != nil {
		return err
	}
	_, err = tx.PeekPolicyOn(tx.Now.In(zone).Format(civil.DateLayout))
	if fault.Is(err, pb.Reason_NO_POLICY) {
		s.NoPolicy = append(s.NoPolicy, tx.Club)
		return nil
	}
	return err
}

func (s *Survey) addQueue(tx *ledger.Tx) error {
	queue, err := tx.Queue()
	for _, letter := range queue {
		if at := letter.QueuedAt.AsTime(); s.Oldest.IsZero() || at.Before(s.Oldest) {
			s.Oldest = at
		}
	}
	return err
}
