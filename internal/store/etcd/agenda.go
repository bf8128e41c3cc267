package etcd

import (
	"context"
	"strings"

	clientv3 "go.etcd.io/etcd/client/v3"

	"gritward/internal/store"
)

// dueKey is where a key of a club lies once more that begins with store.DuePrefix: in the order of keys, then clubs. It is written
// in the same request as the key itself, upon the same condition, so that clubs are not in each other's way.
func (s *Store) dueKey(key, club string) string { return s.prefix + key + "\x00" + club }

// Due implements store.Store.
func (s *Store) Due(ctx context.Context, from, before string) (due []store.Due, err error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if err := s.enter(); err != nil {
		return nil, err
	}
	defer s.users.Done()
	if before <= from {
		return nil, nil
	}
	found, err := s.get(ctx, s.prefix+from, clientv3.WithRange(s.prefix+before), clientv3.WithKeysOnly())
	if err != nil {
		return nil, err
	}
	for _, kv := range found.Kvs {
		name := strings.TrimPrefix(string(kv.Key), s.prefix)
		at := strings.LastIndexByte(name, 0)
		if at < 0 {
			return nil, errRecord
		}
		due = append(due, store.Due{Club: name[at+1:], Key: name[:at]})
	}
	return due, nil
}

// due are the operations by which the agenda follows changes.
func (m *mirror) due(changes []change) (ops []clientv3.Op) {
	for _, c := range changes {
		switch at := m.store.dueKey(c.key, m.club); {
		case !strings.HasPrefix(c.key, store.DuePrefix):
		case c.record == nil:
			ops = append(ops, clientv3.OpDelete(at))
		default:
			ops = append(ops, clientv3.OpPut(at, ""))
		}
	}
	return ops
}

// dueFirst are the changes of the agenda that go with a commit whose changes lie in a blob, as many as fit: what is put on it before
// what is taken off, since what is due too long is looked at in vain, and what is not there is missed.
func (m *mirror) dueFirst(changes []change) (first []change) {
	bytes := 0
	for _, off := range []bool{false, true} {
		for _, c := range changes {
			if off == (c.record == nil) && strings.HasPrefix(c.key, store.DuePrefix) && len(first) < m.store.TxnOps-otherOps && bytes+m.weight(c) <= m.store.TxnBytes {
				first, bytes = append(first, c), bytes+m.weight(c)
			}
		}
	}
	return first
}
