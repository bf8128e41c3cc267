package bolt

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"io"
	"math"
)

// What is looked at here is bbolt's page format, version 2: https://pkg.go.dev/go.etcd.io/bbolt, internal/common of v1.5.0.
// bbolt itself trusts the pages that it reads: a number that is wrong in one is a memory fault, or has it go round for ever.
const (
	pageHeader   = 16 // id 8, flags 2, count 2, overflow 4
	elementBytes = 16 // of a leaf: flags 4, position 4, key 4, value 4; of a branch: position 4, key 4, page 8
	metaBytes    = 64 // magic 4, version 4, page size 4, flags 4, root 8, sequence 8, free list 8, pages 8, transaction 8, checksum 8

	branchPage   = 0x01
	leafPage     = 0x02
	metaPage     = 0x04
	freePage     = 0x10
	bucketInLeaf = 0x01

	boltMagic   = 0xED0CDAED
	boltVersion = 2
	noFreeList  = math.MaxUint64
	countAhead  = math.MaxUint16 // in a free list: the count stands before the first number

	// mostProblems is how many are told; one that is wrong may bring many.
	mostProblems = 20
	// mostDeep is how deep pages may lie below one another. At two keys a page that is more than any disk holds.
	mostDeep = 100
)

// PagesError says what is wrong with the pages of a file.
type PagesError struct {
	Path string
	// Problems are told to people, one line each.
	Problems []string
}

// Error says the first of them.
func (e *PagesError) Error() string {
	more := ""
	if len(e.Problems) > 1 {
		more = fmt.Sprintf(" (and %d more)", len(e.Problems)-1)
	}
	return fmt.Sprintf("store: %s is damaged: %s%s: keep it, and restore a backup with gritwardd restore", e.Path, e.Problems[0], more)
}

// pageWalk looks at every page of a file once, and takes nothing in it for granted.
type pageWalk struct {
	from     io.ReaderAt
	progress func(done, total int64)
	pageSize int64
	// pages is how many there are; it was held against the length of the file.
	pages    uint64
	seen     []bool
	looked   int64
	problems []string
	// dropped counts the problems beyond those kept.
	dropped int
}

// checkPages looks at every page of a file of so many bytes and tells what is wrong, in words; nil: nothing. It needs a file
// that nobody writes to. The progress is in bytes; it may be nil.
func checkPages(from io.ReaderAt, size int64, progress func(done, total int64)) []string {
	w := &pageWalk{from: from, progress: progress}
	root, free, ok := w.newestMeta(size)
	if !ok {
		return w.problems
	}
	w.seen = make([]bool, w.pages)
	w.seen[0], w.seen[1] = true, true
	w.tree(root, nil, nil, 0)
	w.freeList(free)
	if len(w.problems) == 0 {
		for id, seen := range w.seen {
			if !seen {
				w.wrong(uint64(id), "is neither in use nor free")
			}
		}
	}
	if w.dropped > 0 {
		w.problems = append(w.problems, fmt.Sprintf("and %d more", w.dropped))
	}
	return w.problems
}

func (w *pageWalk) wrong(id uint64, what string, values ...any) {
	if len(w.problems) >= mostProblems {
		w.dropped++
		return
	}
	w.problems = append(w.problems, fmt.Sprintf("page %d ", id)+fmt.Sprintf(what, values...))
}

// newestMeta reads the two pages that say where all begins, takes the newer of those that are whole, as bbolt does, and sets what
// is known of the file.
func (w *pageWalk) newestMeta(size int64) (root, free uint64, ok bool) {
	var newest uint64
	whole := [2]bool{}
	for _, at := range metaPlaces(w.from) {
		page := make([]byte, pageHeader+metaBytes)
		if _, err := w.from.ReadAt(page, at); err != nil {
			continue
		}
		head, meta := page[:pageHeader], page[pageHeader:]
		number := func(from int) uint64 { return binary.NativeEndian.Uint64(meta[from:]) }
		sum := fnv.New64a()
		_, _ = sum.Write(meta[:56])
		id := binary.NativeEndian.Uint64(head)
		if id != uint64(min(at, 1)) || binary.NativeEndian.Uint16(head[8:]) != metaPage || binary.NativeEndian.Uint32(meta) != boltMagic ||
			binary.NativeEndian.Uint32(meta[4:]) != boltVersion || number(56) != sum.Sum64() {
			continue
		}
		whole[id] = true
		if tx := number(48); ok && tx <= newest {
			continue
		}
		newest, ok = number(48), true
		w.pageSize, root, free, w.pages = int64(binary.NativeEndian.Uint32(meta[8:])), number(16), number(32), number(40)
	}
	switch {
	case !ok:
		w.problems = []string{"both first pages are damaged: nothing of the file can be read"}
	case w.pageSize < 1024 || w.pageSize > 64<<10 || w.pages < 2 || w.pages > uint64(math.MaxInt64/w.pageSize):
		w.problems, ok = []string{fmt.Sprintf("it says to have %d pages of %d bytes", w.pages, w.pageSize)}, false
	case int64(w.pages)*w.pageSize > size:
		w.problems, ok = []string{fmt.Sprintf("it is cut short: %d of %d bytes", size, int64(w.pages)*w.pageSize)}, false
	}
	for id := range whole {
		if ok && !whole[id] {
			w.wrong(uint64(id), "is damaged, one of the two in which the file begins: after a loss of power that does no harm, and the next change "+
				"writes it anew; otherwise the last change may be lost")
		}
	}
	return root, free, ok
}

// metaPlaces are where the two first pages can begin: the size of pages, which says where the second one is, stands in each.
func metaPlaces(from io.ReaderAt) []int64 {
	places := []int64{0}
	for size := int64(1024); size <= 64<<10; size *= 2 {
		says := make([]byte, 4)
		if _, err := from.ReadAt(says, size+pageHeader+8); err == nil && int64(binary.NativeEndian.Uint32(says)) == size {
			places = append(places, size)
		}
	}
	return places
}

// page reads a page that nothing else pointed to, with those that it runs over into; nil where it is wrong, which is told.
func (w *pageWalk) page(id uint64) []byte {
	if id < 2 || id >= w.pages {
		w.wrong(id, "is pointed to, and the file has pages 2 to %d", w.pages-1)
		return nil
	}
	head := make([]byte, pageHeader)
	if _, err := w.from.ReadAt(head, int64(id)*w.pageSize); err != nil {
		w.wrong(id, "cannot be read: %v", err)
		return nil
	}
	over := uint64(binary.NativeEndian.Uint32(head[12:]))
	if says := binary.NativeEndian.Uint64(head); says != id || over >= w.pages-id {
		w.wrong(id, "is overwritten: it says that it is page %d with %d more", says, over)
		return nil
	}
	for i := id; i <= id+over; i++ {
		if w.seen[i] {
			w.wrong(i, "is used twice")
			return nil
		}
		w.seen[i] = true
	}
	data := make([]byte, int64(over+1)*w.pageSize)
	if _, err := w.from.ReadAt(data, int64(id)*w.pageSize); err != nil {
		w.wrong(id, "cannot be read: %v", err)
		return nil
	}
	w.looked += int64(len(data))
	if w.progress != nil {
		w.progress(w.looked, int64(w.pages)*w.pageSize)
	}
	return data
}

// tree looks at the pages from a root on. All keys below are >= least and < end (nil: no bound).
func (w *pageWalk) tree(id uint64, least, end []byte, deep int) {
	if deep > mostDeep {
		w.wrong(id, "lies too deep")
		return
	}
	if data := w.page(id); data != nil {
		w.elements(id, data, least, end, deep)
	}
}

// elements looks at what stands in a page, or in a small bucket within one, and at what lies below.
func (w *pageWalk) elements(id uint64, data, least, end []byte, deep int) {
	flags, count := binary.NativeEndian.Uint16(data[8:]), int(binary.NativeEndian.Uint16(data[10:]))
	if flags != branchPage && flags != leafPage || flags == branchPage && count == 0 || pageHeader+count*elementBytes > len(data) {
		w.wrong(id, "is overwritten: it says that it is of kind %#x with %d records", flags, count)
		return
	}
	keys, values := make([][]byte, count), make([][]byte, count)
	for i := range count {
		var ok bool
		if keys[i], values[i], ok = element(data, i, flags == leafPage); !ok {
			w.wrong(id, "is overwritten: record %d reaches out of it", i)
			return
		}
		before := least
		if i > 0 {
			before = keys[i-1]
		}
		order := bytes.Compare(before, keys[i])
		if len(keys[i]) == 0 || order > 0 || order == 0 && i > 0 || end != nil && bytes.Compare(keys[i], end) >= 0 {
			w.wrong(id, "has its keys out of order: %.40q after %.40q", keys[i], before)
			return
		}
	}
	for i, key := range keys {
		if flags == leafPage {
			if bucketElement(data, i) {
				w.bucket(id, key, values[i], deep)
			}
			continue
		}
		upTo := end
		if i+1 < count {
			upTo = keys[i+1]
		}
		w.tree(binary.NativeEndian.Uint64(data[pageHeader+i*elementBytes+8:]), key, upTo, deep+1)
	}
}

// element gives key and value of a record; that of a branch has no value.
func element(data []byte, i int, leaf bool) (key, value []byte, ok bool) {
	at := pageHeader + i*elementBytes
	field := func(n int) int64 { return int64(binary.NativeEndian.Uint32(data[at+4*n:])) }
	pos, keyBytes, valueBytes := field(0), field(1), int64(0)
	if leaf {
		pos, keyBytes, valueBytes = field(1), field(2), field(3)
	}
	from := int64(at) + pos
	if pos < elementBytes || from+keyBytes+valueBytes > int64(len(data)) {
		return nil, nil, false
	}
	return data[from : from+keyBytes], data[from+keyBytes : from+keyBytes+valueBytes], true
}

func bucketElement(data []byte, i int) bool {
	return binary.NativeEndian.Uint32(data[pageHeader+i*elementBytes:])&bucketInLeaf != 0
}

// bucket looks at a bucket: its pages, or a small one that stands in its value.
func (w *pageWalk) bucket(id uint64, key, value []byte, deep int) {
	const header = 16 // root 8, sequence 8
	if len(value) < header {
		w.wrong(id, "is overwritten: its bucket %.40q has no beginning", key)
		return
	}
	if root := binary.NativeEndian.Uint64(value); root != 0 {
		w.tree(root, nil, nil, deep+1)
		return
	}
	inside := value[header:]
	if len(inside) < pageHeader || binary.NativeEndian.Uint16(inside[8:]) != leafPage || deep > mostDeep {
		w.wrong(id, "is overwritten: its bucket %.40q is not one", key)
		return
	}
	w.elements(id, inside, nil, nil, deep+1)
}

// freeList looks at the list of the pages that are not in use.
func (w *pageWalk) freeList(id uint64) {
	if id == noFreeList {
		return
	}
	data := w.page(id)
	if data == nil {
		return
	}
	count, at := uint64(binary.NativeEndian.Uint16(data[10:])), uint64(pageHeader)
	if count == countAhead {
		count, at = binary.NativeEndian.Uint64(data[at:]), at+8
	}
	if binary.NativeEndian.Uint16(data[8:]) != freePage || count > (uint64(len(data))-at)/8 {
		w.wrong(id, "is overwritten: it should list the free pages")
		return
	}
	for i := range count {
		free := binary.NativeEndian.Uint64(data[at+8*i:])
		switch {
		case free < 2 || free >= w.pages:
			w.wrong(free, "is listed as free, and the file has pages 2 to %d", w.pages-1)
		case w.seen[free]:
			w.wrong(free, "is in use, and listed as free")
		default:
			w.seen[free] = true
		}
	}
}
