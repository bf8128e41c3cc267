package etcd

import (
	"context"
	"errors"
	"slices"
	"strings"
	"sync"

	"gritward/internal/store"
)

// watchers are those who wait for changes of a club.
type watchers struct {
	mu     sync.Mutex
	all    map[*watcher]struct{}
	closed bool
}

type watcher struct {
	prefix string
	woken  chan struct{}
}

// Watch implements store.Store. The watcher is woken once more when the club has been read, since etcd's watch begins there.
func (s *Store) Watch(ctx context.Context, club, prefix string) (<-chan struct{}, error) {
	if err := errors.Join(store.CheckClub(club), ctx.Err()); err != nil {
		return nil, err
	}
	m, err := s.use(club)
	if err != nil {
		return nil, err
	}
	one := &watcher{prefix: prefix, woken: make(chan struct{}, 1)}
	m.watchers.add(one)
	s.leave(m, true)
	context.AfterFunc(ctx, func() {
		m.watchers.remove(one)
		s.unpin(m)
	})
	return one.woken, nil
}

func (w *watchers) add(one *watcher) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.closed {
		close(one.woken)
		return
	}
	if w.all == nil {
		w.all = map[*watcher]struct{}{}
	}
	w.all[one] = struct{}{}
}

// remove ends a watch, once.
func (w *watchers) remove(one *watcher) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if _, there := w.all[one]; there {
		delete(w.all, one)
		close(one.woken)
	}
}

// wake tells those who watch that keys changed.
func (w *watchers) wake(keys []string) {
	w.wakeIf(func(prefix string) bool {
		return slices.ContainsFunc(keys, func(key string) bool { return strings.HasPrefix(key, prefix) })
	})
}

// wakeAll tells everybody, where it is not known what changed.
func (w *watchers) wakeAll() { w.wakeIf(func(string) bool { return true }) }

func (w *watchers) wakeIf(meant func(prefix string) bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for one := range w.all {
		if !meant(one.prefix) {
			continue
		}
		select {
		case one.woken <- struct{}{}:
		default: // it has a wake-up to take already
		}
	}
}

// close ends every watch.
func (w *watchers) close() {
	w.mu.Lock()
	defer w.mu.Unlock()
	for one := range w.all {
		close(one.woken)
	}
	w.all, w.closed = nil, true
}
