package etcd

import (
	"context"
	"errors"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"

	"gritward/internal/store"
)

// View implements store.Store.
func (s *Store) View(ctx context.Context, club string, use func(store.Tx) error) error {
	if err := errors.Join(store.CheckClub(club), ctx.Err()); err != nil {
		return err
	}
	m, err := s.use(club)
	if err != nil {
		return err
	}
	defer s.leave(m, false)
	now, err := m.shown(ctx)
	if err != nil {
		return err
	}
	t := &tx{ctx: ctx, keys: now.keys, version: now.version(), readOnly: true}
	defer t.end()
	return use(t)
}

// shown is the state that a View shows.
func (m *mirror) shown(ctx context.Context) (*state, error) {
	if most := store.AgeOf(ctx); most > 0 {
		m.mu.Lock()
		now, at := m.state, m.newestAt
		m.mu.Unlock()
		if now != nil && time.Since(at) <= most {
			return now, nil
		}
	}
	return m.current(ctx)
}

// look is one look at etcd, shared by all who asked before it began: it tells the state that was the newest at some moment since.
type look struct {
	done  chan struct{}
	state *state
	err   error
}

// current is the state that is the newest at some moment between the call and its end.
func (m *mirror) current(ctx context.Context) (*state, error) {
	m.mu.Lock()
	mine := m.next
	if mine == nil {
		mine = &look{done: make(chan struct{})}
		m.next = mine
		if !m.flying {
			m.flying = true
			go m.look()
		}
	}
	m.mu.Unlock()
	select {
	case <-mine.done:
		return mine.state, mine.err
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// look looks at etcd for as long as somebody asks.
func (m *mirror) look() {
	for {
		m.mu.Lock()
		now := m.next
		m.next = nil
		if m.flying = now != nil; !m.flying {
			m.mu.Unlock()
			return
		}
		m.mu.Unlock()
		now.state, now.err = m.confirmed()
		close(now.done)
	}
}

// confirmed asks etcd for the newest revision of the club and waits until the mirror is there.
func (m *mirror) confirmed() (*state, error) {
	asked := time.Now()
	revision, err := m.revision(m.store.ending)
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(m.store.ending, m.store.Timeout)
	defer cancel()
	now, err := m.await(ctx, revision)
	if err == nil {
		m.wasNewest(asked)
	}
	return now, err
}

// wasNewest notes that what the mirror has now, or something older, was the newest at a moment.
func (m *mirror) wasNewest(at time.Time) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if at.After(m.newestAt) {
		m.newestAt = at
	}
}

// revision is the newest revision of the club.
func (m *mirror) revision(ctx context.Context) (int64, error) {
	found, err := m.store.get(ctx, m.names.version, clientv3.WithKeysOnly())
	if err != nil || len(found.Kvs) == 0 {
		return 0, err
	}
	return found.Kvs[0].ModRevision, nil
}
