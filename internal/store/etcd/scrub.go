package etcd

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"go.etcd.io/etcd/api/v3/v3rpc/rpctypes"
	clientv3 "go.etcd.io/etcd/client/v3"
)

// defragTime is how long one member may take to rewrite its file.
const defragTime = 10 * time.Minute

// Scrub implements store.Store: what was begun is carried out, what was left of commits broken off is deleted, and etcd forgets all
// earlier revisions and rewrites the file of each member, one after another, the leader last. The logs and snapshots of the members
// keep what was deleted for a while longer, until they are cut off in the course of things (etcd's --snapshot-count, --max-wals and
// --max-snapshots). All members must be reachable.
func (s *Store) Scrub(ctx context.Context) error {
	clubs, err := s.Clubs(ctx)
	if err != nil {
		return err
	}
	if err := s.enter(); err != nil {
		return err
	}
	defer s.users.Done()
	for _, club := range clubs {
		if err := s.tidy(ctx, club); err != nil {
			return err
		}
	}
	now, err := s.get(ctx, s.infoKey())
	if err != nil {
		return err
	}
	if _, err := s.client.Compact(ctx, now.Header.Revision, clientv3.WithCompactPhysical()); err != nil && !errors.Is(err, rpctypes.ErrCompacted) {
		return fmt.Errorf("store: %s was not compacted: %w", s.Where(), err)
	}
	return s.defragment(ctx)
}

// defragment rewrites the file of every member, the leader's last.
func (s *Store) defragment(ctx context.Context) error {
	found, err := tried(ctx, func(ctx context.Context) (*clientv3.MemberListResponse, error) { return s.client.MemberList(ctx) })
	if err != nil {
		return err
	}
	var addresses []string
	leader := ""
	for _, member := range found.Members {
		if len(member.ClientURLs) == 0 {
			return fmt.Errorf("store: the member %q of %s has no address for clients; the file of it was not rewritten", member.Name, s.Where())
		}
		address := member.ClientURLs[0]
		addresses = append(addresses, address)
		within, cancel := context.WithTimeout(ctx, s.Timeout)
		if told, err := s.client.Status(within, address); err == nil && told.Leader == member.ID {
			leader = address
		}
		cancel()
	}
	slices.SortStableFunc(addresses, func(a, b string) int { return order(a == leader) - order(b == leader) })
	for _, address := range addresses {
		within, cancel := context.WithTimeout(ctx, defragTime)
		_, err := s.client.Defragment(within, address)
		cancel()
		if err != nil {
			return fmt.Errorf("store: the file of etcd's member at %s was not rewritten: %w", address, err)
		}
	}
	return nil
}

func order(last bool) int {
	if last {
		return 1
	}
	return 0
}

// tidy carries out what is pending in a club, and deletes what commits left that were broken off. A commit that is under way loses
// its race by that and is run again.
func (s *Store) tidy(ctx context.Context, club string) error {
	m, err := s.use(club)
	if err != nil {
		return err
	}
	defer s.leave(m, false)
	for {
		now, err := m.current(ctx)
		if err != nil {
			return err
		}
		if now.blob.token != "" {
			if err := m.carryOut(ctx, now); err != nil {
				return err
			}
			continue
		}
		left, err := m.unused(ctx, now)
		if err != nil || len(left) == 0 {
			return err
		}
		left = left[:min(len(left), s.TxnOps-otherOps)]
		ops := []clientv3.Op{clientv3.OpPut(m.names.version, version{token: rand.Text()}.text())}
		for _, token := range left {
			ops = append(ops, clientv3.OpDelete(m.names.blob(token), clientv3.WithPrefix()))
		}
		if _, err := tried(ctx, func(ctx context.Context) (*clientv3.TxnResponse, error) {
			return s.client.Txn(ctx).If(m.unchanged(now.revision)).Then(ops...).Commit()
		}); err != nil {
			return err
		}
		m.mu.Lock()
		for _, token := range left {
			m.forget(token) // if it was not deleted it is found again
		}
		m.mu.Unlock()
	}
}

// unused are the blobs that nothing points to at a state. Etcd is asked for them, since the watch may lag behind.
func (m *mirror) unused(ctx context.Context, now *state) ([]string, error) {
	found, err := m.store.get(ctx, m.names.parts, clientv3.WithPrefix(), clientv3.WithKeysOnly())
	if err != nil {
		return nil, err
	}
	left := map[string]struct{}{}
	for _, kv := range found.Kvs {
		if token, ok := partOf(strings.TrimPrefix(string(kv.Key), m.names.parts)); ok {
			left[token] = struct{}{}
		}
	}
	delete(left, now.blob.token)
	if len(left) > 0 {
		now.keys.Scan(func(_ string, e entry) bool {
			delete(left, e.blob().token)
			return true
		})
	}
	return slices.Collect(maps.Keys(left)), nil
}
