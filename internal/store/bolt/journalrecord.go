package bolt

import (
	"bytes"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"maps"
	"slices"

	"gritward/internal/store"
)

// A journal is a header, journalMagic and the epoch, and records one after another: recordMark, the length of what follows the sum,
// a CRC-32C of epoch, offset and that, and then by club its id and entries, each a key and a value with its length; all
// lengths as varints, that of a value one more than it is, since 0 is a key that is gone. Behind the last there may be anything: what
// was begun and not acknowledged, or what is left of another epoch.
const (
	journalMagic = "gritward journal 1\n"
	headerBytes  = len(journalMagic) + len(epoch{})
	recordMark   = "jrnl"
	recordHead   = len(recordMark) + 4 + 4
)

func (e epoch) appendHeader(to []byte) []byte { return append(append(to, journalMagic...), e[:]...) }

// appendRecord appends a record that is to stand, with what is in to, at an offset of the journal.
func (e epoch) appendRecord(to []byte, at int64, own map[string]*sorted) []byte {
	begin := len(to)
	to = append(append(to, recordMark...), make([]byte, recordHead-len(recordMark))...)
	for _, club := range slices.Sorted(maps.Keys(own)) {
		to = appendText(to, club)
		to = binary.AppendUvarint(to, uint64(own[club].len()))
		for _, c := range own[club].chunks {
			for i := range c.entries {
				entry := &c.entries[i]
				to = appendText(to, entry.key)
				if entry.gone() {
					to = append(to, 0)
				} else {
					value := entry.value()
					to = append(binary.AppendUvarint(to, uint64(len(value))+1), value...)
				}
			}
		}
	}
	record := to[begin:]
	binary.LittleEndian.PutUint32(record[len(recordMark):], uint32(len(record)-recordHead)) //nolint:gosec // at most batchBytes and a transaction
	binary.LittleEndian.PutUint32(record[len(recordMark)+4:], e.sum(at+int64(begin), record[recordHead:]))
	return to
}

func appendText(to []byte, text string) []byte {
	return append(binary.AppendUvarint(to, uint64(len(text))), text...)
}

// sum is that of a record at an offset.
func (e epoch) sum(at int64, rest []byte) uint32 {
	var before [16]byte
	copy(before[:], e[:])
	binary.LittleEndian.PutUint64(before[8:], uint64(at)) //nolint:gosec // not below 0
	return crc32.Update(crc32.Checksum(before[:], castagnoli), castagnoli, rest)
}

// recordAt gives the part of a record behind its sum; ok is false where none of the epoch stands there, whole.
func (e epoch) recordAt(journal []byte, at int) (rest []byte, ok bool) {
	if at+recordHead > len(journal) || string(journal[at:at+len(recordMark)]) != recordMark {
		return nil, false
	}
	length := uint64(binary.LittleEndian.Uint32(journal[at+len(recordMark):]))
	if rest = journal[at+recordHead:]; length > uint64(len(rest)) {
		return nil, false
	}
	rest = rest[:length]
	return rest, e.sum(int64(at), rest) == binary.LittleEndian.Uint32(journal[at+len(recordMark)+4:])
}

// errJournal is in what is wrong with a journal: it has records that are not as they were written, or that belong elsewhere.
var (
	errJournalDamaged = errors.New("it is not as it was written")
	errJournalForeign = errors.New("it belongs to another state of the store's file, or to another file")
)

// read gives what a journal has that is not in a file of these epochs, by club. What was begun and not acknowledged is left out:
// it stands at the end, and is not whole. Where something whole stands behind it, or but a bit of it is wrong, it is damage.
func (f epochs) read(journal []byte) (clubs map[string]*sorted, err error) {
	at := headerBytes
	clubs = map[string]*sorted{}
	for {
		rest, ok := f.now.recordAt(journal, at)
		if !ok {
			break
		}
		if err := replay(clubs, rest); err != nil {
			return nil, err
		}
		at += recordHead + len(rest)
	}
	switch {
	case f.now.isBehind(journal, at) || f.now.isOneBitOff(journal, at):
		return nil, errJournalDamaged
	case at > headerBytes:
		return clubs, nil
	case len(journal) < headerBytes:
		return nil, nil
	}
	var of epoch
	copy(of[:], journal[len(journalMagic):])
	if _, whole := of.recordAt(journal, headerBytes); whole && of != f.before {
		return nil, errJournalForeign
	}
	return nil, nil
}

// isBehind tells whether a record of the epoch stands behind an offset.
func (e epoch) isBehind(journal []byte, at int) bool {
	for at < len(journal) {
		next := bytes.Index(journal[at:], []byte(recordMark))
		if next < 0 {
			return false
		}
		if _, ok := e.recordAt(journal, at+next); ok {
			return true
		}
		at += next + 1
	}
	return false
}

// isOneBitOff tells whether a record of the epoch would stand at an offset but for one bit. CRCs are linear: how one bit changes the sum
// depends on its place alone.
func (e epoch) isOneBitOff(journal []byte, at int) bool {
	if at+recordHead > len(journal) {
		return false
	}
	head := bytes.Clone(journal[at : at+recordHead])
	sum, length := head[len(recordMark)+4:], head[len(recordMark):len(recordMark)+4]
	holds := func() bool {
		n := uint64(binary.LittleEndian.Uint32(length))
		rest := journal[at+recordHead:]
		return string(head[:len(recordMark)]) == recordMark && n <= uint64(len(rest)) &&
			e.sum(int64(at), rest[:n]) == binary.LittleEndian.Uint32(sum)
	}
	for bit := range 8 * len(head) {
		head[bit/8] ^= 1 << (bit % 8)
		if holds() {
			return true
		}
		head[bit/8] ^= 1 << (bit % 8)
	}
	n := uint64(binary.LittleEndian.Uint32(length))
	rest := journal[at+recordHead:]
	if string(head[:len(recordMark)]) != recordMark || n > uint64(len(rest)) {
		return false
	}
	off := binary.LittleEndian.Uint32(sum) ^ e.sum(int64(at), rest[:n])
	var by [8]uint32
	for bit := range by {
		by[bit] = castagnoli[1<<bit]
	}
	for range n { // from the last byte on
		for bit, changed := range by {
			if changed == off {
				return true
			}
			by[bit] = castagnoli[byte(changed)] ^ changed>>8
		}
	}
	return false
}

// replay puts what a record has over what those before it had.
func replay(clubs map[string]*sorted, rest []byte) error {
	r := reader{rest}
	for len(r.rest) > 0 {
		club, ok := r.text()
		count, counted := r.number()
		if !ok || !counted || store.CheckClub(club) != nil {
			return errJournalDamaged
		}
		if clubs[club] == nil {
			clubs[club] = &sorted{}
		}
		for range count {
			key, hasKey := r.text()
			length, hasLength := r.number()
			if !hasKey || !hasLength || store.CheckKey(key) != nil {
				return errJournalDamaged
			}
			made := entry{key: key, batch: 1}
			if length > 0 {
				value, ok := r.bytes(length - 1)
				if !ok {
					return errJournalDamaged
				}
				made.record = written(key, value).record
			}
			clubs[club].set(made)
		}
	}
	return nil
}

// reader reads a record.
type reader struct{ rest []byte }

func (r *reader) number() (uint64, bool) {
	n, length := binary.Uvarint(r.rest)
	if length <= 0 {
		return 0, false
	}
	r.rest = r.rest[length:]
	return n, true
}

func (r *reader) bytes(n uint64) (read []byte, ok bool) {
	if n > uint64(len(r.rest)) {
		return nil, false
	}
	read, r.rest = r.rest[:n], r.rest[n:]
	return read, true
}

func (r *reader) text() (string, bool) {
	n, ok := r.number()
	if !ok {
		return "", false
	}
	read, ok := r.bytes(n)
	return string(read), ok
}
