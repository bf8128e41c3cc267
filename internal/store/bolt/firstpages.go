package bolt

import (
	"bytes"
	"encoding/binary"
	"hash/fnv"
	"io"
	"math/bits"

	"gritward/internal/store"
)

// bbolt writes the two first pages in turn, each with a checksum, and where one is not whole goes on from the other: from the
// commit before. That is right where power was lost while the page was written, since nobody was told yet that the commit is
// there. A page that was whole and then was damaged looks the same to bbolt, and a commit would be lost that was acknowledged.

// firstPage is one of the two, without its header.
type firstPage [metaBytes]byte

func (p firstPage) number() uint64 { return binary.NativeEndian.Uint64(p[48:]) }
func (p firstPage) sum() uint64    { return binary.NativeEndian.Uint64(p[56:]) }

func (p firstPage) wantSum() uint64 {
	sum := fnv.New64a()
	_, _ = sum.Write(p[:56])
	return sum.Sum64()
}

// checkFirstPages refuses a file of which a first page was damaged, unless it can only have been cut off in being written.
func checkFirstPages(path string, from io.ReaderAt, pageSize int) error {
	var pages [2]firstPage
	whole := [2]bool{}
	for i := range pages {
		data := make([]byte, pageHeader+metaBytes)
		if _, err := from.ReadAt(data, int64(i*pageSize)); err != nil {
			return &store.DamagedError{Path: path, What: err.Error()}
		}
		copy(pages[i][:], data[pageHeader:])
		whole[i] = pages[i].sum() == pages[i].wantSum() && binary.NativeEndian.Uint64(data) == uint64(i) &&
			binary.NativeEndian.Uint16(data[8:]) == metaPage
	}
	for i := range pages {
		if !whole[i] && !cutOff(pages[i], pages[1-i]) {
			return &store.DamagedError{Path: path, What: "one of the two pages in which it begins is not as it was written: the last change may be lost"}
		}
	}
	return nil
}

// cutOff tells whether a page is one that was being written over with the commit after the good one's: begins with what is
// the same in all, has a number of before or after, and no bit or two make it whole again.
func cutOff(page, good firstPage) bool {
	if !bytes.Equal(page[:16], good[:16]) {
		return false
	}
	if restored, ok := mended(page); ok {
		return restored.number() < good.number() // the older one is not needed
	}
	var older, newer [8]byte
	binary.NativeEndian.PutUint64(older[:], good.number()-1)
	binary.NativeEndian.PutUint64(newer[:], good.number()+1)
	for i := range 9 {
		if bytes.Equal(page[48:56], append(append([]byte{}, newer[:i]...), older[i:]...)) {
			return true
		}
	}
	return false
}

// mended tries whether a page is whole but for one or two bits.
func mended(page firstPage) (firstPage, bool) {
	const inside = 56 * 8 // bits that the sum is of
	flip := func(bit int) { page[bit/8] ^= 1 << (bit % 8) }
	off := func() int { return bits.OnesCount64(page.sum() ^ page.wantSum()) }
	if off() <= 2 {
		return page, true
	}
	for first := range inside {
		flip(first)
		if off() <= 1 {
			return page, true
		}
		for second := range first {
			flip(second)
			if off() == 0 {
				return page, true
			}
			flip(second)
		}
		flip(first)
	}
	return page, false
}
