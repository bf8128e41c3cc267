package etcd

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"strings"
	"time"

	"go.etcd.io/etcd/api/v3/v3rpc/rpctypes"
	clientv3 "go.etcd.io/etcd/client/v3"

	"gritward/internal/store"
)

// settleTimes is how many timeouts long it is tried to find out what became of a commit whose answer was lost.
const settleTimes = 3

// full makes of etcd's refusal for want of space what a caller can be told; anything else stays as it is.
func (s *Store) full(err error) error {
	if !errors.Is(err, rpctypes.ErrNoSpace) {
		return err
	}
	return fmt.Errorf("%w (%s: %v): gritwardd doctor says how", store.ErrFull, s.Where(), err)
}

// partBytes is the size of parts.
func (s *Store) partBytes() int { return s.TxnBytes * 3 / 4 }

// blobOf is a new blob for data.
func (s *Store) blobOf(data []byte) blob {
	return blob{rand.Text(), len(split(data, s.partBytes()))}
}

// putBlob writes the parts of a blob. Nothing points to it yet.
func (m *mirror) putBlob(ctx context.Context, token string, data []byte) error {
	for i, part := range split(data, m.store.partBytes()) {
		if _, err := tried(ctx, func(ctx context.Context) (*clientv3.PutResponse, error) {
			return m.store.client.Put(ctx, m.names.part(token, i), string(part))
		}); err != nil {
			return m.store.full(err)
		}
	}
	return nil
}

// settle commits the batch, and tells those who share it when that is done. Where it is not, serve does.
func (b *batch) settle() {
	defer close(b.done)
	began := time.Now()
	b.outcome = b.handOver()
	if b.m.store.Observer.Committed != nil && len(b.touched) > 0 {
		b.m.store.Observer.Committed(time.Since(began), len(b.turns), b.outcome.failed)
	}
	switch {
	case b.outcome.again:
		b.m.store.lost.Add(1)
	case b.outcome.failed == nil && b.next.pending.token == "":
		b.tell()
	case b.outcome.failed == nil:
		if b.dueLater() { // who is answered may build upon what is due
			b.m.carryOutNow()
		}
		b.tell()
		b.m.carryOutNow()
	}
}

// handOver commits the batch, or makes sure that what it read is the newest.
func (b *batch) handOver() verdict {
	ctx, cancel := context.WithTimeout(b.m.store.ending, settleTimes*b.m.store.Timeout)
	defer cancel()
	if b.reads() {
		revision, err := b.m.revision(ctx)
		if err != nil {
			return verdict{failed: err}
		}
		b.m.line.heard(revision)
		return verdict{again: revision != b.under.revision}
	}
	for token, data := range b.blobs {
		if err := b.m.putBlob(ctx, token, data); err != nil {
			return verdict{failed: err}
		}
	}
	v := b.commit(ctx)
	if v.again {
		for token := range b.blobs { // nobody will point to them; what is left Scrub takes away
			_, _ = b.m.store.client.Delete(ctx, b.m.names.blob(token), clientv3.WithPrefix())
		}
	}
	return v
}

// writes are the operations of the commit. Of what is carried out after it the agenda is written with it, so that nothing due is missed
// if nobody carries out the rest.
func (b *batch) writes() []clientv3.Op {
	if b.next.pending.token == "" {
		return append(b.m.writes(b.makes, b.changes), b.listed()...)
	}
	return append(b.m.due(b.m.dueFirst(b.changes)), b.listed()...)
}

// dueLater tells whether not all of the agenda goes with the commit.
func (b *batch) dueLater() bool {
	return len(b.m.dueFirst(b.changes)) < len(b.m.due(b.changes))
}

// carryOutNow carries out what was just committed that was too large for one request. Where it fails the next batch goes on with it.
func (m *mirror) carryOutNow() {
	if now, _ := m.newest(); now.blob.token != "" {
		ctx, cancel := context.WithTimeout(m.store.ending, m.store.Timeout)
		defer cancel()
		_ = m.carryOut(ctx, now)
	}
}

// writes are the operations that carry out changes which make a state.
func (m *mirror) writes(s *state, changes []change) (ops []clientv3.Op) {
	left := map[string]struct{}{}
	for together := range packsOf(changes) {
		ops = append(ops, m.putPack(together[0].pack, together))
	}
	for _, c := range changes {
		switch {
		case c.pack != "":
		case c.record != nil:
			ops = append(ops, clientv3.OpPut(m.names.keys+c.key, string(c.record)))
		case c.leaves == "":
			ops = append(ops, clientv3.OpDelete(m.names.keys+c.key))
		}
		if c.drops != "" {
			ops = append(ops, clientv3.OpDelete(m.names.blob(c.drops), clientv3.WithPrefix()))
		}
		if _, done := left[c.leaves]; c.leaves != "" && !done {
			left[c.leaves] = struct{}{}
			ops = append(ops, m.repacked(s, c.leaves))
		}
	}
	return append(ops, m.due(changes)...)
}

// ops is how many operations carry a change of a key out, at most, where it leaves a blob or a pack, or does not.
func ops(key string, leaves bool) (n int) {
	n = 1
	if leaves {
		n++
	}
	if strings.HasPrefix(key, store.DuePrefix) {
		n++
	}
	return n
}

// mostOps is the most that ops tells.
const mostOps = 3

// tooMany tells whether changes do not fit into one request.
func (m *mirror) tooMany(changes []change) bool {
	count, bytes, counted := otherOps, 0, map[string]struct{}{}
	for _, c := range changes {
		if bytes += m.weight(c); c.pack == "" {
			count += ops(c.key, c.drops != "")
		}
		for _, token := range []string{c.pack, c.leaves} {
			if _, there := counted[token]; token == "" || there {
				continue
			}
			counted[token] = struct{}{}
			if count++; token == c.leaves {
				bytes += packBytes
			}
		}
	}
	return count > m.store.TxnOps || bytes > m.store.TxnBytes
}

// weight is about how many bytes of a request a change takes.
func (m *mirror) weight(c change) int {
	bytes := len(m.names.keys) + len(c.key) + len(c.record) + 16
	if strings.HasPrefix(c.key, store.DuePrefix) {
		bytes += len(m.store.dueKey(c.key, m.club)) + 16
	}
	return bytes
}

// listed are the operations by which the club comes into the list of those that have keys, or goes out of it.
func (b *batch) listed() []clientv3.Op {
	switch was, is := b.under.keys.Len() > 0, b.keys.Len() > 0; {
	case is && !was:
		return []clientv3.Op{clientv3.OpPut(b.m.names.listed, "")}
	case was && !is:
		return []clientv3.Op{clientv3.OpDelete(b.m.names.listed)}
	}
	return nil
}

// unchanged holds while nobody wrote to the club since a revision.
func (m *mirror) unchanged(revision int64) clientv3.Cmp {
	return clientv3.Compare(clientv3.ModRevision(m.names.version), "=", revision)
}

// commit hands the batch over to etcd.
func (b *batch) commit(ctx context.Context) verdict {
	m, sent := b.m, time.Now()
	conditions := []clientv3.Cmp{m.unchanged(b.under.revision)}
	if b.duty != nil {
		conditions = append(conditions, b.duty.still())
	}
	m.onItsWay(b)
	defer m.onItsWay(nil)
	attempt, cancel := context.WithTimeout(ctx, 2*attemptTime)
	told, err := m.store.client.Txn(attempt).If(conditions...).
		Then(append(b.writes(), clientv3.OpPut(m.names.version, b.next.text()))...).
		Else(clientv3.OpGet(m.names.version, clientv3.WithKeysOnly())).Commit()
	cancel()
	var at int64
	switch {
	case err == nil && told.Succeeded:
		at = told.Header.Revision
	case err == nil:
		if kvs := told.Responses[0].GetResponseRange().Kvs; len(kvs) > 0 {
			at = kvs[0].ModRevision
		}
		m.line.heard(at)
		if at == b.under.revision {
			return verdict{failed: store.ErrOffDuty}
		}
		return verdict{again: true}
	case errors.Is(err, rpctypes.ErrNoSpace):
		return verdict{failed: m.store.full(err)}
	case refused(err):
		return verdict{failed: fmt.Errorf("store: %s refused the change, and nothing was done: %w: look at its log, and at its limits against etcd_txn_ops and etcd_request_kib", m.store.Where(), err)}
	default:
		if at, err = m.became(ctx, b.under.revision, b.next.token); err != nil {
			return verdict{failed: fmt.Errorf("%w (%s: %v)", store.ErrUncertain, m.store.Where(), err)}
		}
		if at == 0 {
			return verdict{again: true}
		}
	}
	m.line.heard(at)
	m.mu.Lock()
	m.committed(b, at)
	m.mu.Unlock()
	m.wasNewest(sent)
	return verdict{}
}

// became finds out what became of a commit upon a revision whose answer was lost: the revision at which it was done; 0 where it
// was not, and never will be, since the version is another now. For that a version of nobody's is written where there is none.
func (m *mirror) became(ctx context.Context, after int64, token string) (at int64, err error) {
	told, err := tried(ctx, func(ctx context.Context) (*clientv3.TxnResponse, error) {
		return m.store.client.Txn(ctx).If(m.unchanged(after)).Then(clientv3.OpPut(m.names.version, version{token: rand.Text()}.text())).
			Else(clientv3.OpGet(m.names.version)).Commit()
	})
	if err != nil {
		return 0, err
	}
	if told.Succeeded {
		m.line.heard(told.Header.Revision)
		return 0, nil
	}
	kvs := told.Responses[0].GetResponseRange().Kvs // the first version after the revision is ours, or ours was not done
	if len(kvs) == 0 {
		return 0, errGone
	}
	for first := kvs[0]; ; {
		m.line.heard(first.ModRevision)
		if first.CreateRevision == first.ModRevision && after == 0 {
			return mine(string(first.Value), token, first.ModRevision)
		}
		before, err := m.store.get(ctx, m.names.version, clientv3.WithRev(first.ModRevision-1))
		switch {
		case errors.Is(err, rpctypes.ErrCompacted):
			return 0, errors.New("what etcd had then was compacted")
		case err != nil:
			return 0, err
		case len(before.Kvs) == 0 || before.Kvs[0].ModRevision <= after:
			return mine(string(first.Value), token, first.ModRevision)
		}
		first = before.Kvs[0]
	}
}

// errGone is about a club whose version somebody took away, which no server does.
var errGone = errors.New("the club's keys were deleted by something else")

// mine tells at which revision a commit was done, by the version that came of it.
func mine(text, token string, at int64) (int64, error) {
	v, err := readVersion(text)
	if err != nil || v.token != token {
		return 0, err
	}
	return at, nil
}

// carryOut carries out what a transaction left that was too large for one request. Whoever does it at the same time does the
// same; none of them does anything once it is done.
func (m *mirror) carryOut(ctx context.Context, s *state) error {
	rest := s.pending
	for last := false; !last; {
		now, most := 0, otherOps
		for bytes := 0; now < len(rest) && most+mostOps <= m.store.TxnOps; now++ {
			more := m.weight(rest[now])
			if rest[now].leaves != "" {
				more += packBytes
			}
			if bytes += more; now > 0 && bytes > m.store.TxnBytes {
				break
			}
			most += ops(rest[now].key, true)
		}
		ops := m.writes(s, rest[:now])
		rest = rest[now:]
		if last = len(rest) == 0; last {
			ops = append(ops, clientv3.OpDelete(m.names.blob(s.blob.token), clientv3.WithPrefix()),
				clientv3.OpPut(m.names.version, version{token: rand.Text()}.text()))
		}
		told, err := tried(ctx, func(ctx context.Context) (*clientv3.TxnResponse, error) {
			return m.store.client.Txn(ctx).If(m.unchanged(s.revision)).Then(ops...).Else(clientv3.OpGet(m.names.version, clientv3.WithKeysOnly())).Commit()
		})
		if err != nil {
			return m.store.full(err)
		}
		if told.Succeeded {
			if last {
				m.line.heard(told.Header.Revision)
			}
			continue
		}
		kvs := told.Responses[0].GetResponseRange().Kvs
		if len(kvs) == 0 {
			return errGone
		}
		m.line.heard(kvs[0].ModRevision)
		return nil
	}
	return nil
}
