package bolt

import (
	"context"
	"errors"
	"strings"
	"sync"

	"gritward/internal/store"
)

// watchers are those who wait for changes, by club.
type watchers struct {
	mu     sync.Mutex
	byClub map[string]map[*watcher]struct{}
	closed bool
}

type watcher struct {
	prefix string
	woken  chan struct{}
}

// Watch implements store.Store.
func (s *Store) Watch(ctx context.Context, club, prefix string) (<-chan struct{}, error) {
	if err := errors.Join(store.CheckClub(club), ctx.Err()); err != nil {
		return nil, err
	}
	one := &watcher{prefix: prefix, woken: make(chan struct{}, 1)}
	if !s.watchers.add(club, one) {
		return nil, store.ErrClosed
	}
	context.AfterFunc(ctx, func() { s.watchers.remove(club, one) })
	return one.woken, nil
}

func (w *watchers) add(club string, one *watcher) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.closed {
		return false
	}
	if w.byClub == nil {
		w.byClub = map[string]map[*watcher]struct{}{}
	}
	if w.byClub[club] == nil {
		w.byClub[club] = map[*watcher]struct{}{}
	}
	w.byClub[club][one] = struct{}{}
	return true
}

// remove ends a watch, once.
func (w *watchers) remove(club string, one *watcher) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if _, there := w.byClub[club][one]; !there {
		return
	}
	delete(w.byClub[club], one)
	if len(w.byClub[club]) == 0 {
		delete(w.byClub, club)
	}
	close(one.woken)
}

// wake tells those who watch that keys were committed.
func (w *watchers) wake(club string, written *sorted) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for one := range w.byClub[club] {
		if first := written.at(written.seek(one.prefix)); first == nil || !strings.HasPrefix(first.key, one.prefix) {
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
	for _, all := range w.byClub {
		for one := range all {
			close(one.woken)
		}
	}
	w.byClub, w.closed = nil, true
}
