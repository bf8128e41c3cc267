package bolt

import (
	"hash/maphash"
	"slices"
	"strings"
)

// entry is what a key is to become: a record, with room for its sums, or gone.
type entry struct {
	key    string
	record []byte // nil: gone
	// carried: the batch before wrote it.
	carried bool
}

func written(key string, value []byte) entry {
	return entry{key: key, record: append(make([]byte, sumBytes, sumBytes+len(value)), value...)}
}

func (e *entry) gone() bool { return e.record == nil }

// value is nil when the key is gone.
func (e *entry) value() []byte {
	if e.gone() {
		return nil
	}
	return e.record[sumBytes:]
}

// chunkEntries is how many entries a chunk holds before it is split: few enough to move at an insertion, many enough that
// few chunks have to be moved.
const chunkEntries = 64

// sorted keeps entries in the order of their keys: a tree of two levels, since what waits for one commit is seldom much.
type sorted struct {
	chunks [][]entry // none is empty
	// seen has two bits for each key that was ever set: most keys that are looked for are of no entry, which it shows at once.
	seen [64]uint64
}

var seed = maphash.MakeSeed()

// marks are the places of a key in seen.
func marks(key string) (a, b uint64) {
	hash := maphash.String(seed, key)
	return hash % (64 * 64), hash >> 32 % (64 * 64)
}

func (s *sorted) mayHave(key string) bool {
	a, b := marks(key)
	return s.seen[a/64]>>(a%64)&1 != 0 && s.seen[b/64]>>(b%64)&1 != 0
}

// place is where an entry lies: before the first when chunk is -1, behind the last when chunk is len(chunks).
type place struct{ chunk, index int }

// seek finds the first entry whose key is not less than key.
func (s *sorted) seek(key string) place {
	chunk, _ := slices.BinarySearchFunc(s.chunks, key, func(chunk []entry, key string) int {
		return strings.Compare(chunk[len(chunk)-1].key, key)
	})
	if chunk == len(s.chunks) {
		return place{chunk, 0}
	}
	index, _ := slices.BinarySearchFunc(s.chunks[chunk], key, func(e entry, key string) int { return strings.Compare(e.key, key) })
	return place{chunk, index}
}

// at gives the entry at a place; nil before the first and behind the last. It is good until the next set or drop.
func (s *sorted) at(p place) *entry {
	if p.chunk < 0 || p.chunk >= len(s.chunks) {
		return nil
	}
	return &s.chunks[p.chunk][p.index]
}

func (s *sorted) next(p place) place {
	if p.index+1 < len(s.chunks[p.chunk]) {
		return place{p.chunk, p.index + 1}
	}
	return place{p.chunk + 1, 0}
}

func (s *sorted) previous(p place) place {
	if p.index > 0 {
		return place{p.chunk, p.index - 1}
	}
	if p.chunk == 0 {
		return place{-1, 0}
	}
	return place{p.chunk - 1, len(s.chunks[p.chunk-1]) - 1}
}

// find gives the entry of a key; nil when there is none.
func (s *sorted) find(key string) *entry {
	if !s.mayHave(key) {
		return nil
	}
	if e := s.at(s.seek(key)); e != nil && e.key == key {
		return e
	}
	return nil
}

// set puts an entry in, in place of the one with its key, which it gives; that has but its key when there was none.
func (s *sorted) set(e entry) (old entry, was bool) {
	a, b := marks(e.key)
	s.seen[a/64] |= 1 << (a % 64)
	s.seen[b/64] |= 1 << (b % 64)
	p := s.seek(e.key)
	if there := s.at(p); there != nil && there.key == e.key {
		old, *there = *there, e
		return old, true
	}
	s.insert(p, e)
	return entry{key: e.key}, false
}

// insert puts an entry in at the place that seek found for it.
func (s *sorted) insert(p place, e entry) {
	if p.chunk == len(s.chunks) {
		if p.chunk == 0 {
			s.chunks = append(s.chunks, []entry{e})
			return
		}
		p = place{p.chunk - 1, len(s.chunks[p.chunk-1])}
	}
	chunk := slices.Insert(s.chunks[p.chunk], p.index, e)
	s.chunks[p.chunk] = chunk
	if len(chunk) > chunkEntries {
		half := len(chunk) / 2
		upper := append(make([]entry, 0, chunkEntries+1), chunk[half:]...) // with room, so that it is not moved before it is split itself
		clear(chunk[half:])
		s.chunks[p.chunk] = chunk[:half]
		s.chunks = slices.Insert(s.chunks, p.chunk+1, upper)
	}
}

// drop takes the entry of a key out; it must be there.
func (s *sorted) drop(key string) {
	p := s.seek(key)
	if s.chunks[p.chunk] = slices.Delete(s.chunks[p.chunk], p.index, p.index+1); len(s.chunks[p.chunk]) == 0 {
		s.chunks = slices.Delete(s.chunks, p.chunk, p.chunk+1)
	}
}

// len is how many entries there are.
func (s *sorted) len() (n int) {
	for _, chunk := range s.chunks {
		n += len(chunk)
	}
	return n
}

// carried is a copy of it for the batch after this one.
func (s *sorted) carried() *sorted {
	made := &sorted{seen: s.seen, chunks: make([][]entry, len(s.chunks))}
	for i, chunk := range s.chunks {
		made.chunks[i] = slices.Clone(chunk)
		for j := range chunk {
			made.chunks[i][j].carried = true
		}
	}
	return made
}

// own is what of it was not carried over from the batch before.
func (s *sorted) own() *sorted {
	made := &sorted{seen: s.seen}
	for _, chunk := range s.chunks {
		if chunk = slices.DeleteFunc(chunk, func(e entry) bool { return e.carried }); len(chunk) > 0 {
			made.chunks = append(made.chunks, chunk)
		}
	}
	return made
}
