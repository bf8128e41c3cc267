package etcd

import (
	"iter"
	"slices"
	"strings"

	"github.com/tidwall/btree"
	clientv3 "go.etcd.io/etcd/client/v3"

	"gritward/internal/store"
)

// What a commit makes anew and is small lies together in packs: etcd's work, and its memory, are by the key more than by the byte. A record
// that is changed later goes to a key of its own and one that is deleted is gone, each time with its pack written anew without it, so that what
// is changed again and again is packed once.

const (
	// packBytes is the most that a pack becomes; so much is written anew at the most when a record leaves it. packedBytes is the most that
	// a record may be to go into one.
	packBytes   = 4 << 10
	packedBytes = 1 << 10
)

// packs are the keys of what lies in each pack of a club, by token, in their order. Some may have left it.
type packs = btree.Map[string, []string]

// packed is about how many bytes of a pack a record takes.
func packed(key string, record int) int { return len(key) + record + 8 }

// packable tells whether a record that was not there before may go into a pack. The agenda's are short-lived.
func packable(key string, record int) bool {
	return packed(key, record) <= packedBytes && !strings.HasPrefix(key, store.DuePrefix)
}

// pack says of changes, which are in the order of keys, which of them go into packs together.
func pack(changes []change, name func(pack int) string) {
	var together []*change
	made, bytes := 0, 0
	end := func() {
		if len(together) > 1 {
			for _, c := range together {
				c.pack = name(made)
			}
			made++
		}
		together, bytes = together[:0], 0
	}
	for i := range changes {
		c := &changes[i]
		if !c.fresh || !packable(c.key, len(c.record)) {
			continue
		}
		size := packed(c.key, len(c.record))
		if bytes+size > packBytes {
			end()
		}
		together, bytes = append(together, c), bytes+size
	}
	end()
}

// settlePacks takes out of packs what left them, and puts in what goes in.
func (b *batch) settlePacks() {
	for _, c := range b.changes {
		if c.leaves != "" {
			b.makes.leave(c.leaves)
		}
	}
	for together := range packsOf(b.changes) {
		keys, in := make([]string, len(together)), &place{pack: together[0].pack}
		for i, c := range together {
			keys[i] = c.key
			b.keys.Set(c.key, entry{b.touched[c.key].now.value, in})
		}
		b.packs.Set(together[0].pack, keys)
	}
}

// packsOf are the changes that go into each pack.
func packsOf(changes []change) iter.Seq[[]change] {
	return func(yield func([]change) bool) {
		var together []change
		for _, c := range changes {
			if c.pack == "" {
				continue
			}
			if len(together) > 0 && c.pack != together[0].pack {
				if !yield(together) {
					return
				}
				together = together[:0]
			}
			together = append(together, c)
		}
		if len(together) > 0 {
			yield(together)
		}
	}
}

// leave forgets of a pack what is no longer in it.
func (s *state) leave(token string) {
	if left := s.in(token); len(left) > 0 {
		s.packs.Set(token, left)
	} else {
		s.packs.Delete(token)
	}
}

// in are the keys of what lies in a pack.
func (s *state) in(token string) (keys []string) {
	all, _ := s.packs.Get(token)
	for _, key := range all {
		if e, there := s.keys.Get(key); there && e.pack() == token {
			keys = append(keys, key)
		}
	}
	return keys
}

// repacked writes a pack with what is left in it.
func (m *mirror) repacked(s *state, token string) clientv3.Op {
	var left []change
	for _, key := range s.in(token) {
		e, _ := s.keys.Get(key)
		left = append(left, change{key: key, record: e.record()})
	}
	if len(left) == 0 {
		return clientv3.OpDelete(m.names.packs + token)
	}
	return m.putPack(token, left)
}

func (m *mirror) putPack(token string, changes []change) clientv3.Op {
	return clientv3.OpPut(m.names.packs+token, string(appendChanges(nil, changes)))
}

// pack brings the mirror up to date by what now lies in a pack. What lay in it and has not been put elsewhere since is gone.
func (u *updating) pack(token string, data []byte) error {
	changes, err := readChanges(data)
	if err != nil {
		return err
	}
	var keys []string
	in := &place{pack: token}
	for _, c := range changes {
		e, err := readRecord(c.record)
		if err != nil || e.blob().token != "" || c.drops != "" {
			return errRecord
		}
		keys = append(keys, c.key)
		if old, there := u.tree().Get(c.key); !there || old.pack() != token {
			e.lies = in
			u.set(c.key, e)
		} else { // the same, in other bytes: those of the pack before would be held whole for it
			u.tree().Set(c.key, entry{e.value, old.lies})
		}
	}
	was, _ := u.state.packs.Get(token)
	for _, key := range was {
		if old, there := u.tree().Get(key); there && old.pack() == token && !slices.Contains(keys, key) {
			u.drop(key)
		}
	}
	if u.packs == nil {
		u.packs = u.state.packs.Copy()
		u.state.packs = u.packs
	}
	if len(keys) > 0 {
		u.packs.Set(token, keys)
	} else {
		u.packs.Delete(token)
	}
	return nil
}
