package etcd

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"go.etcd.io/etcd/api/v3/mvccpb"
	"go.etcd.io/etcd/api/v3/v3rpc/rpctypes"
	clientv3 "go.etcd.io/etcd/client/v3"
	"google.golang.org/grpc/metadata"
)

const (
	// pageKeys and pageParts are how many records, and parts of what is large, are read at a time.
	pageKeys  = 200
	pageParts = 4
	// firstPause and longestPause are how long is waited before etcd is asked again, twice as long each time.
	firstPause   = 20 * time.Millisecond
	longestPause = time.Second
)

// follow reads the club and then goes on by the watch, until the context ends. What it has lost touch with it reads anew.
func (m *mirror) follow(ctx context.Context) {
	defer close(m.ended)
	for pause := firstPause; ctx.Err() == nil; pause = min(2*pause, longestPause) {
		revision, err := m.load(ctx)
		if ctx.Err() != nil {
			return
		}
		if m.tell(err); err != nil {
			sleep(ctx, pause)
			continue
		}
		pause = firstPause
		m.watch(ctx, revision+1)
	}
}

// tell tells when reading or following the club begins to fail, and when it goes on.
func (m *mirror) tell(err error) {
	m.mu.Lock()
	changed := (m.failing == nil) != (err == nil)
	m.failing = err
	m.mu.Unlock()
	if changed && m.store.Observer.Trouble != nil {
		m.store.Observer.Trouble(m.club, err)
	}
}

// Troubles are the clubs that cannot be read or followed now, and why. It is tried again all the while.
func (s *Store) Troubles() map[string]error {
	s.mu.Lock()
	defer s.mu.Unlock()
	troubles := map[string]error{}
	for club, m := range s.mirrors {
		m.mu.Lock()
		if m.failing != nil {
			troubles[club] = m.failing
		}
		m.mu.Unlock()
	}
	return troubles
}

// sleep waits, or until the context ends.
func sleep(ctx context.Context, pause time.Duration) {
	timer := time.NewTimer(pause)
	defer timer.Stop()
	select {
	case <-ctx.Done():
	case <-timer.C:
	}
}

// load reads the club whole, as it is at one revision, which it tells.
func (m *mirror) load(ctx context.Context) (revision int64, err error) {
	first, err := m.store.get(ctx, m.names.version)
	if err != nil {
		return 0, err
	}
	revision = first.Header.Revision
	fresh := &mirror{names: m.names, parts: map[string]map[string][]byte{}}
	u := &updating{m: fresh, seen: -1, state: state{keys: newKeys(), packs: new(packs)}, keys: newKeys()}
	if err = m.pages(ctx, m.names.parts, pageParts, revision, func(kv *mvccpb.KeyValue) error {
		fresh.part(strings.TrimPrefix(string(kv.Key), m.names.parts), kv.Value, false)
		return nil
	}); err != nil {
		return 0, err
	}
	if err = m.pages(ctx, m.names.packs, pageKeys, revision, func(kv *mvccpb.KeyValue) error {
		return u.pack(strings.TrimPrefix(string(kv.Key), m.names.packs), kv.Value)
	}); err != nil {
		return 0, err
	}
	if err = m.pages(ctx, m.names.keys, pageKeys, revision, func(kv *mvccpb.KeyValue) error {
		return u.put(strings.TrimPrefix(string(kv.Key), m.names.keys), kv.Value, false)
	}); err != nil {
		return 0, err
	}
	for _, kv := range first.Kvs {
		if err := u.version(kv); err != nil {
			return 0, err
		}
	}
	u.state.keys = u.keys
	m.mu.Lock()
	defer m.mu.Unlock()
	m.parts, m.bytes = fresh.parts, fresh.bytes
	if m.state == nil || m.state.revision < u.state.revision { // a commit of this server may have gone further
		m.moveTo(&u.state)
	}
	m.watchers.wakeAll()
	return revision, nil
}

// pages reads what lies below a prefix at a revision.
func (m *mirror) pages(ctx context.Context, prefix string, most int64, revision int64, visit func(*mvccpb.KeyValue) error) error {
	from, end := prefix, clientv3.GetPrefixRangeEnd(prefix)
	for {
		page, err := m.store.get(ctx, from, clientv3.WithRange(end), clientv3.WithLimit(most), clientv3.WithRev(revision))
		if err != nil {
			return err
		}
		for _, kv := range page.Kvs {
			if err := visit(kv); err != nil {
				return fmt.Errorf("%q: %w", kv.Key, err)
			}
			from = string(kv.Key) + "\x00"
		}
		if !page.More {
			return nil
		}
	}
}

// watch applies what etcd tells from a revision on, until the club has to be read anew or the context ends.
func (m *mirror) watch(ctx context.Context, from int64) {
	for pause := firstPause; ctx.Err() == nil; pause = min(2*pause, longestPause) {
		stream := m.store.stream.Load()
		within, cancel := context.WithCancel(metadata.AppendToOutgoingContext(clientv3.WithRequireLeader(ctx), "gritward-stream", fmt.Sprint(stream)))
		m.setRewatch(func() {
			m.store.stream.CompareAndSwap(stream, stream+1) // etcd's client has one stream for all watches with the same metadata
			cancel()
		})
		for told := range m.store.client.Watch(within, m.names.all, clientv3.WithPrefix(), clientv3.WithRev(from), clientv3.WithCreatedNotify()) {
			if told.CompactRevision != 0 || errors.Is(told.Err(), rpctypes.ErrCompacted) {
				cancel()
				return
			}
			if err := told.Err(); err != nil && within.Err() == nil {
				m.tell(fmt.Errorf("etcd ended the watch: %w", err))
				continue // the channel is closed then
			}
			if told.Created {
				m.tell(nil)
			}
			if len(told.Events) == 0 {
				continue
			}
			if err := m.apply(told.Events); err != nil {
				m.tell(fmt.Errorf("what the watch tells does not fit: %w", err))
				cancel()
				return
			}
			from, pause = told.Events[len(told.Events)-1].Kv.ModRevision+1, firstPause
		}
		cancel()
		sleep(ctx, pause)
	}
	m.setRewatch(nil)
}

func (m *mirror) setRewatch(again func()) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.rewatch = again
}
