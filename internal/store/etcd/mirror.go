package etcd

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/tidwall/btree"
	"go.etcd.io/etcd/api/v3/mvccpb"
	clientv3 "go.etcd.io/etcd/client/v3"
)

// keys are the entries of a club in order.
type keys = btree.Map[string, entry]

// newKeys is an empty tree, whose leaves have 15 keys at the most: a leaf is copied when one of them changes.
func newKeys() *keys { return btree.NewMap[string, entry](8) }

// state is a club as it was at one revision. Nothing of it changes once others see it.
type state struct {
	keys  *keys
	packs *packs
	// revision is that of the last change of the club's version key; 0: it was never written to.
	revision int64
	// pending are the changes of a transaction that are to be carried out, from that blob. They are in keys already.
	pending []change
	blob    blob
}

// version is a number for what can be read: 1 where nothing was ever written, which is no revision at which a version was.
func (s *state) version() uint64 { return uint64(max(s.revision, 1)) }

// mirror is a club kept in memory, brought up to date by etcd's watch and by what this server commits.
type mirror struct {
	store    *Store
	club     string
	names    names
	line     line
	watchers watchers
	// stop ends following, ended is closed then.
	stop  context.CancelFunc
	ended chan struct{}
	// users are the transactions that use it; guarded by the store's mu, like usedAt.
	users  int
	usedAt time.Time

	mu sync.Mutex
	// state is nil until the club was read.
	state *state
	// newestAt is the last moment at which the state is known to have been the newest.
	newestAt time.Time
	// moved is closed, and replaced, when state becomes another.
	moved chan struct{}
	// sent is the commit on its way to etcd, if any.
	sent *batch
	// parts are those of blobs that nothing that was read points to yet: of commits under way, or left by one broken off.
	parts map[string]map[string][]byte
	bytes int64
	// next is the look at etcd that begins next, for all who ask meanwhile.
	next   *look
	flying bool
	// failing is why the club cannot be read or followed now; nil: it can. It is tried again until it can.
	failing error
	// rewatch begins the watch anew, over another stream.
	rewatch func()
}

// newest is the state that the mirror is at; nil until the club was read.
func (m *mirror) newest() (*state, chan struct{}) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.state, m.moved
}

// moveTo makes a state the newest; mu is held.
func (m *mirror) moveTo(s *state) {
	m.state = s
	close(m.moved)
	m.moved = make(chan struct{})
}

// copied is a copy of a state's keys and packs to be changed.
func (m *mirror) copied(s *state) (*keys, *packs) {
	m.mu.Lock() // copying marks the tree that is copied
	defer m.mu.Unlock()
	return s.keys.Copy(), s.packs.Copy()
}

// stalled is after how long a watch that lags behind what etcd says is begun anew, and then after twice as long each time: a new one
// takes time itself.
const stalled = 400 * time.Millisecond

// await waits until the mirror is at a revision or later.
func (m *mirror) await(ctx context.Context, revision int64) (*state, error) {
	patience := stalled
	lags := time.NewTimer(patience)
	defer lags.Stop()
	for {
		s, moved := m.newest()
		if s != nil && s.revision >= revision {
			return s, nil
		}
		select {
		case <-moved:
		case <-lags.C:
			m.mu.Lock()
			again := m.rewatch
			m.mu.Unlock()
			if again != nil {
				again()
			}
			patience *= 2
			lags.Reset(patience)
		case <-ctx.Done():
			m.mu.Lock()
			why := m.failing
			m.mu.Unlock()
			return nil, unreachable(cmp.Or(why, ctx.Err()))
		}
	}
}

// onItsWay notes which commit is on its way to etcd; nil: none.
func (m *mirror) onItsWay(b *batch) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.sent = b
}

// committed puts what this server has just committed at a revision into the mirror, if the watch was not faster, and wakes who watches it;
// mu is held.
func (m *mirror) committed(b *batch, at int64) {
	if b.makes.revision == 0 {
		b.makes.revision = at
	}
	if m.state.revision != b.under.revision {
		return
	}
	touched := make([]string, len(b.changes))
	for i, c := range b.changes {
		touched[i] = c.key
	}
	m.bytes += b.grown
	m.moveTo(b.makes)
	m.watchers.wake(touched)
}

// ours tells whether events are the commit on its way to etcd, and nothing besides, upon what the mirror is at, so that what it makes need
// not be read from them; mu is held. What lies in parts is read, since the parts are to be let go of.
func (m *mirror) ours(events []*clientv3.Event) bool {
	first, last := events[0].Kv, events[len(events)-1].Kv // a commit writes the version last
	if m.sent == nil || len(m.sent.blobs) > 0 || m.state.revision != m.sent.under.revision ||
		first.ModRevision != last.ModRevision || string(last.Key) != m.names.version || string(last.Value) != m.sent.next.text() {
		return false
	}
	return !slices.ContainsFunc(events, func(event *clientv3.Event) bool { return strings.HasPrefix(string(event.Kv.Key), m.names.parts) })
}

// apply brings the mirror up to date by what the watch tells, whole revisions in their order. An error says that it has to be
// read anew.
func (m *mirror) apply(events []*clientv3.Event) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.ours(events) { // the watch is faster than the answer
		m.committed(m.sent, events[0].Kv.ModRevision)
		return nil
	}
	u := &updating{m: m, seen: m.state.revision, state: *m.state}
	for _, event := range events {
		if err := u.event(event); err != nil {
			return fmt.Errorf("%q: %w", event.Kv.Key, err)
		}
	}
	if u.keys != nil {
		u.state.keys = u.keys
	}
	if u.keys != nil || u.packs != nil || u.state.revision != u.seen {
		m.moveTo(&u.state)
		m.watchers.wake(u.touched)
	}
	return nil
}

// updating is a mirror that is brought up to date.
type updating struct {
	m *mirror
	// seen is the revision up to which everything is known already.
	seen  int64
	state state
	// keys is nil until one changes, and packs until one does.
	keys    *keys
	packs   *packs
	touched []string
}

func (u *updating) event(event *clientv3.Event) error {
	name, gone, known := string(event.Kv.Key), event.Type == clientv3.EventTypeDelete, event.Kv.ModRevision <= u.seen
	if key, is := strings.CutPrefix(name, u.m.names.parts); is {
		u.m.part(key, event.Kv.Value, gone)
		return nil
	}
	if token, is := strings.CutPrefix(name, u.m.names.packs); is && !known {
		return u.pack(token, event.Kv.Value)
	}
	if key, is := strings.CutPrefix(name, u.m.names.keys); is {
		if gone {
			if !known {
				u.drop(key)
			}
			return nil
		}
		return u.put(key, event.Kv.Value, known)
	}
	if name != u.m.names.version || known || gone {
		return nil
	}
	return u.version(event.Kv)
}

// version moves on to another version. The changes of a transaction that lies in a blob are laid over the keys at once.
func (u *updating) version(kv *mvccpb.KeyValue) error {
	v, err := readVersion(string(kv.Value))
	if err != nil {
		return err
	}
	u.state.revision, u.state.pending, u.state.blob = kv.ModRevision, nil, v.pending
	if v.pending.token == "" {
		return nil
	}
	data, there := u.m.joined(v.pending)
	if !there {
		return errMissing
	}
	if u.state.pending, err = readChanges(data); err != nil {
		return err
	}
	for i := range u.state.pending {
		c := &u.state.pending[i]
		if old, there := u.tree().Get(c.key); there {
			c.leaves = old.pack()
		}
		if c.record == nil {
			u.drop(c.key)
		} else if err := u.put(c.key, c.record, false); err != nil {
			return err
		}
	}
	return nil
}

// tree is the tree of keys, to be changed.
func (u *updating) tree() *keys {
	if u.keys == nil {
		u.keys = u.state.keys.Copy()
	}
	return u.keys
}

func (u *updating) drop(key string) {
	if old, there := u.tree().Delete(key); there {
		u.m.bytes -= size(key, old)
		u.touched = append(u.touched, key)
	}
}

func (u *updating) put(key string, record []byte, known bool) error {
	e, err := readRecord(record)
	if err != nil {
		return err
	}
	if blob := e.blob(); blob.token != "" {
		if old, there := u.tree().Get(key); there && old.blob() == blob {
			u.m.forget(blob.token)
			return nil
		}
		data, there := u.m.joined(blob)
		switch {
		case known:
			return nil
		case !there:
			return errMissing
		}
		e.value = data
	}
	if !known {
		u.set(key, e)
	}
	return nil
}

func (u *updating) set(key string, e entry) {
	if old, there := u.tree().Set(key, e); there {
		u.m.bytes -= size(key, old)
	}
	u.m.bytes += size(key, e)
	u.touched = append(u.touched, key)
}

// size is about what a key takes in memory.
func size(key string, e entry) int64 { return int64(len(key) + len(e.value) + 96) }
