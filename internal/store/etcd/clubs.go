package etcd

import (
	"context"
	"time"

	"gritward/internal/store"
)

// use gives the mirror of a club to a transaction, which must leave it.
func (s *Store) use(club string) (*mirror, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil, store.ErrClosed
	}
	s.users.Add(1)
	m := s.mirrors[club]
	if m == nil {
		m = &mirror{store: s, club: club, names: s.namesOf(club), moved: make(chan struct{}), ended: make(chan struct{}), parts: map[string]map[string][]byte{},
			line: line{came: make(chan struct{}, 1)}}
		var ctx context.Context
		ctx, m.stop = context.WithCancel(s.ending)
		s.mirrors[club] = m
		go m.follow(ctx)
	}
	m.users++
	m.usedAt = time.Now()
	return m, nil
}

// leave gives it back; it stays where it is while it is pinned.
func (s *Store) leave(m *mirror, pinned bool) {
	if !pinned {
		s.unpin(m)
	}
	s.users.Done()
}

func (s *Store) unpin(m *mirror) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if m.users--; m.users == 0 {
		s.makeRoom()
	}
}

// makeRoom lets go of the clubs that were not used for longest, while all of them take too much; mu is held.
func (s *Store) makeRoom() {
	for !s.closed {
		var total int64
		var oldest *mirror
		for _, m := range s.mirrors {
			m.mu.Lock()
			total += m.bytes
			m.mu.Unlock()
			if m.users == 0 && (oldest == nil || m.usedAt.Before(oldest.usedAt)) {
				oldest = m
			}
		}
		if total <= s.MirrorBytes || oldest == nil {
			return
		}
		delete(s.mirrors, oldest.club)
		oldest.stop()
	}
}
