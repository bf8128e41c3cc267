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
	// batch is the number of the batch that wrote it.
	batch uint64
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

// sorted keeps entries in the order of their keys: a tree of two levels, since what waits for the file is seldom much.
type sorted struct {
	chunks []chunk // none is empty
	// seen has two bits for each key that was ever set: most keys that are looked for are of no entry, which it shows at once. marked is how
	// many were.
	seen   []uint64
	marked int
	// floor is the number of the last batch of which there is nothing here.
	floor uint64
}

// chunk is some entries; a shared one is of other trees, too, and copied before it is written to.
type chunk struct {
	entries []entry
	shared  bool
}

// markedMost is for how many keys a word of seen is enough.
const markedMost = 8

var seed = maphash.MakeSeed()

// marks are the places of a key in seen.
func (s *sorted) marks(key string) (a, b uint64) {
	hash, bits := maphash.String(seed, key), uint64(64*len(s.seen))
	return hash % bits, hash >> 32 % bits
}

// mark is for a key that is about to be set.
func (s *sorted) mark(key string) {
	if s.marked >= markedMost*len(s.seen) {
		s.remark()
	}
	s.marked++
	a, b := s.marks(key)
	s.seen[a/64] |= 1 << (a % 64)
	s.seen[b/64] |= 1 << (b % 64)
}

// remark makes seen anew, with room for more.
func (s *sorted) remark() {
	entries := s.len()
	s.seen, s.marked = make([]uint64, 1+2*entries/markedMost), 0
	for _, c := range s.chunks {
		for i := range c.entries {
			s.mark(c.entries[i].key)
		}
	}
}

func (s *sorted) mayHave(key string) bool {
	if len(s.seen) == 0 {
		return false
	}
	a, b := s.marks(key)
	return s.seen[a/64]>>(a%64)&1 != 0 && s.seen[b/64]>>(b%64)&1 != 0
}

// place is where an entry lies: before the first when chunk is -1, behind the last when chunk is len(chunks).
type place struct{ chunk, index int }

// seek finds the first entry whose key is not less than key.
func (s *sorted) seek(key string) place {
	at, _ := slices.BinarySearchFunc(s.chunks, key, func(c chunk, key string) int {
		return strings.Compare(c.entries[len(c.entries)-1].key, key)
	})
	if at == len(s.chunks) {
		return place{at, 0}
	}
	index, _ := slices.BinarySearchFunc(s.chunks[at].entries, key, func(e entry, key string) int { return strings.Compare(e.key, key) })
	return place{at, index}
}

// at gives the entry at a place, to be read only; nil before the first and behind the last. It is good until the next set or drop.
func (s *sorted) at(p place) *entry {
	if p.chunk < 0 || p.chunk >= len(s.chunks) {
		return nil
	}
	return &s.chunks[p.chunk].entries[p.index]
}

func (s *sorted) next(p place) place {
	if p.index+1 < len(s.chunks[p.chunk].entries) {
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
	return place{p.chunk - 1, len(s.chunks[p.chunk-1].entries) - 1}
}

// find gives the entry of a key, to be read only; nil when there is none.
func (s *sorted) find(key string) *entry {
	if !s.mayHave(key) {
		return nil
	}
	if e := s.at(s.seek(key)); e != nil && e.key == key {
		return e
	}
	return nil
}

// own gives the entries of a chunk to be written to.
func (s *sorted) own(at int) []entry {
	c := &s.chunks[at]
	if c.shared {
		c.entries, c.shared = append(make([]entry, 0, chunkEntries+1), c.entries...), false
	}
	return c.entries
}

// set puts an entry in, in place of the one with its key, which it gives; that has but its key when there was none.
func (s *sorted) set(e entry) (old entry, was bool) {
	s.mark(e.key)
	p := s.seek(e.key)
	if there := s.at(p); there != nil && there.key == e.key {
		old = *there
		s.own(p.chunk)[p.index] = e
		return old, true
	}
	s.insert(p, e)
	return entry{key: e.key}, false
}

// insert puts an entry in at the place that seek found for it.
func (s *sorted) insert(p place, e entry) {
	if p.chunk == len(s.chunks) {
		if p.chunk == 0 {
			s.chunks = append(s.chunks, chunk{entries: []entry{e}})
			return
		}
		p = place{p.chunk - 1, len(s.chunks[p.chunk-1].entries)}
	}
	entries := slices.Insert(s.own(p.chunk), p.index, e)
	s.chunks[p.chunk].entries = entries
	if len(entries) > chunkEntries {
		half := len(entries) / 2
		upper := append(make([]entry, 0, chunkEntries+1), entries[half:]...) // with room, so that it is not moved before it is split itself
		clear(entries[half:])
		s.chunks[p.chunk].entries = entries[:half]
		s.chunks = slices.Insert(s.chunks, p.chunk+1, chunk{entries: upper})
	}
}

// drop takes the entry of a key out; it must be there.
func (s *sorted) drop(key string) {
	p := s.seek(key)
	left := slices.Delete(s.own(p.chunk), p.index, p.index+1)
	if s.chunks[p.chunk].entries = left; len(left) == 0 {
		s.chunks = slices.Delete(s.chunks, p.chunk, p.chunk+1)
	}
}

// len is how many entries there are.
func (s *sorted) len() (n int) {
	for _, c := range s.chunks {
		n += len(c.entries)
	}
	return n
}

// over is a copy to be written to, without what batches up to a number wrote. The tree itself must not be written to any more.
func (s *sorted) over(floor uint64) *sorted {
	if s == nil {
		return &sorted{floor: floor}
	}
	if floor > s.floor {
		return s.since(floor)
	}
	made := &sorted{seen: slices.Clone(s.seen), marked: s.marked, floor: s.floor, chunks: slices.Clone(s.chunks)}
	for i := range made.chunks {
		made.chunks[i].shared = true
	}
	return made
}

// since is what batches after a number wrote.
func (s *sorted) since(floor uint64) *sorted {
	made := &sorted{floor: floor}
	for _, c := range s.chunks {
		var kept []entry
		for _, e := range c.entries {
			if e.batch > floor {
				kept = append(kept, e)
			}
		}
		if len(kept) > 0 {
			made.chunks = append(made.chunks, chunk{entries: kept})
		}
	}
	made.remark()
	return made
}
