package bolt

import (
	"context"
	"errors"
	"strings"
	"sync"

	"github.com/tidwall/btree"

	"gritward/internal/store"
)

// agenda is what Due lists, of all clubs: keys of the file, kept in memory from when they are first asked for.
type agenda struct {
	mu sync.Mutex
	// entries are keys with their clubs, as entryOf has them; nil: to be read from the file.
	entries *btree.Set[string]
}

func entryOf(key, club string) string { return key + "\x00" + club }

// Due implements store.Store.
func (s *Store) Due(ctx context.Context, from, before string) ([]store.Due, error) {
	for {
		if err := errors.Join(ctx.Err(), s.sound(), s.queue.isClosed()); err != nil {
			return nil, err
		}
		if due, known := s.agenda.between(from, before); known {
			return due, nil
		}
		if err := s.alone(ctx, func() error { return s.readAgenda(ctx) }); err != nil {
			return nil, err
		}
	}
}

// readAgenda reads the keys of every club, while nobody writes.
func (s *Store) readAgenda(ctx context.Context) error {
	entries := &btree.Set[string]{}
	clubs, err := s.Clubs(ctx)
	if err != nil {
		return err
	}
	for _, club := range clubs {
		if err := s.View(ctx, club, func(tx store.Tx) error {
			return tx.Scan(store.DuePrefix, "", func(key string, _ []byte) (bool, error) {
				entries.Insert(entryOf(strings.Clone(key), club))
				return true, nil
			})
		}); err != nil {
			return err
		}
	}
	s.agenda.mu.Lock()
	defer s.agenda.mu.Unlock()
	s.agenda.entries = entries
	return nil
}

// forget has everything read anew: what a commit wrote that failed is not known.
func (a *agenda) forget() {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.entries = nil
}

// written takes in what was committed of a club's.
func (a *agenda) written(club string, writes *sorted) {
	a.mu.Lock()
	defer a.mu.Unlock()
	for at := writes.seek(store.DuePrefix); a.entries != nil; at = writes.next(at) {
		e := writes.at(at)
		if e == nil || !strings.HasPrefix(e.key, store.DuePrefix) {
			return
		}
		if e.gone() {
			a.entries.Delete(entryOf(e.key, club))
		} else {
			a.entries.Insert(entryOf(e.key, club))
		}
	}
}

// between lists what lies between two keys, unless it is not known.
func (a *agenda) between(from, before string) (due []store.Due, known bool) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.entries == nil {
		return nil, false
	}
	a.entries.Ascend(from, func(entry string) bool {
		if entry >= before {
			return false
		}
		at := strings.LastIndexByte(entry, 0)
		due = append(due, store.Due{Club: entry[at+1:], Key: entry[:at]})
		return true
	})
	return due, true
}
