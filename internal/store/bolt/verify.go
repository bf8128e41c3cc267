package bolt

import (
	"context"
	"slices"

	"go.etcd.io/bbolt"
)

// Verify reads everything that the store keeps, and holds it against its sums. The error is a *store.DamagedError where they
// do not agree. Progress is told how many bytes were read, and about how many there are; it may be nil.
func (s *Store) Verify(ctx context.Context, progress func(done, total int64)) error {
	return s.read(func(under *bbolt.Tx, _ *state, _ uint64) error {
		var clubs []string
		if err := s.safely(func() { clubs = listedClubs(under) }); err != nil {
			return err
		}
		done := int64(0)
		for _, club := range clubs {
			for from, more := "", true; more; {
				if err := ctx.Err(); err != nil {
					return err
				}
				read := int64(0)
				if err := s.safely(func() { from, read, more = keysOf(under, club).verify(from) }); err != nil {
					return err
				}
				if done += read; progress != nil {
					progress(min(done, under.Size()), under.Size())
				}
			}
		}
		return nil
	})
}

// listedClubs reads which clubs have keys, and holds it against which have records.
func listedClubs(under *bbolt.Tx) (clubs []string) {
	clubs = clubList(under)
	_ = under.Bucket(clubsBucket()).ForEach(func(club, value []byte) error {
		if value != nil || !slices.Contains(clubs, string(club)) {
			damaged("%.80q lies where the clubs are", club)
		}
		return nil
	})
	return clubs
}

// verifyBytes are read between two looks at the context.
const verifyBytes = 1 << 20

// verify reads records from one key on, tells how many bytes that were, and where to go on.
func (k fileKeys) verify(from string) (next string, read int64, more bool) {
	w := (&pending{file: k}).up(from)
	for read < verifyBytes {
		f, there := w.step()
		if !there {
			return "", read, false
		}
		read += int64(len(f.raw) + len(k.open(f.raw, f.record)) + sumBytes)
		next = f.key() + "\x00"
	}
	return next, read, true
}
