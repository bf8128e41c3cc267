package bolt

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"maps"
	"slices"
	"strings"
	"unsafe"

	"go.etcd.io/bbolt"
)

// bbolt has no checksums but that of its first two pages, and believes what it reads. So each value begins with two of ours:
// one of club, key and value, and one that binds the key to the next one of the club, after the last the first. With the first
// no value is read that was not written so. The second shows that nothing stands between two keys, which is what it means that
// a key is absent or a scan is at its end: a record cannot vanish unseen.
const sumBytes = 8

// castagnoli is CRC-32C (RFC 9260, appendix A), which processors have an instruction for. It finds every burst of up to 32
// bits, and of other damage all but one in 4,000 million. It is no guard against somebody who means it.
var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// sums are of one club: what those of its records begin with.
type sums struct{ value, link uint32 }

// begun are what the sums of every club begin with.
var begun = sums{crc32.Checksum([]byte("value\x00"), castagnoli), crc32.Checksum([]byte("link\x00"), castagnoli)}

func sumsOf(club string) sums {
	of := func(sum uint32) uint32 {
		return crc32.Update(crc32.Update(sum, castagnoli, bytesOf(club)), castagnoli, between)
	}
	return sums{of(begun.value), of(begun.link)}
}

func (s sums) ofValue(key, value []byte) uint32 { return prolonged(s.value, key, value) }

func (s sums) ofLink(key, next []byte) uint32 { return prolonged(s.link, key, next) }

var between = []byte{0}

func prolonged(sum uint32, key, rest []byte) uint32 {
	return crc32.Update(crc32.Update(crc32.Update(sum, castagnoli, key), castagnoli, between), castagnoli, rest)
}

// bytesOf are the bytes of a text, to be read only.
func bytesOf(text string) []byte { return unsafe.Slice(unsafe.StringData(text), len(text)) }

// sum fills in the first bytes of a record, which were left free.
func (s sums) sum(record []byte, key string, next []byte) []byte {
	binary.BigEndian.PutUint32(record, s.ofValue(bytesOf(key), record[sumBytes:]))
	binary.BigEndian.PutUint32(record[4:], s.ofLink(bytesOf(key), next))
	return record
}

// resum makes a record with another value; the next key stays.
func (s sums) resum(record []byte, key string, value []byte) []byte {
	made := written(key, value).record
	binary.BigEndian.PutUint32(made, s.ofValue(bytesOf(key), value))
	copy(made[4:], record[4:sumBytes])
	return made
}

// fileKeys are a club's keys as the file has them. All that is read through it is held against the sums; where they do not
// agree it panics with a damage, which the transaction turns into an error.
type fileKeys struct {
	sums
	club   string
	bucket *bbolt.Bucket // nil when the club has no key
	// cursor is for what is looked up once; a walk has its own.
	cursor *bbolt.Cursor
	// spare is a walk that ended; nil: none did.
	spare *walk
}

// damage is what is wrong with a file, in words.
type damage string

func damaged(format string, values ...any) { panic(damage(fmt.Sprintf(format, values...))) }

// keysOf finds the keys of a club.
func keysOf(under *bbolt.Tx, club string) fileKeys {
	k := fileKeys{sums: sumsOf(club), club: club, bucket: under.Bucket(clubsBucket()).Bucket([]byte(club))}
	switch {
	case k.bucket != nil:
		k.cursor = k.bucket.Cursor()
	case slices.Contains(clubList(under), club):
		damaged("the records of club %s are gone", club)
	}
	return k
}

// open gives the value of a record.
func (k *fileKeys) open(key, record []byte) []byte {
	if len(record) < sumBytes || binary.BigEndian.Uint32(record) != k.ofValue(key, record[sumBytes:]) {
		damaged("the record %.80q of club %s is not as it was written", key, k.club)
	}
	return record[sumBytes:]
}

// edge holds two neighbours against the sum that binds them: nothing stands between them. Key nil is what comes before the
// first, next nil what comes after the last.
func (k *fileKeys) edge(key, record, next []byte) {
	around := key == nil || next == nil
	if around {
		c := k.bucket.Cursor()
		if next == nil {
			next, _ = c.First()
		}
		if key == nil {
			key, record = c.Last()
		}
		if key == nil || next == nil {
			damaged("the records of club %s are gone", k.club)
		}
	}
	if len(record) < sumBytes || around != (bytes.Compare(key, next) >= 0) || binary.BigEndian.Uint32(record[4:]) != k.ofLink(key, next) {
		damaged("records of club %s are missing between %.80q and %.80q", k.club, key, next)
	}
}

// find gives the record of a key; nil when it is absent.
func (k *fileKeys) find(key string) []byte {
	if k.bucket == nil {
		return nil
	}
	found, record := k.cursor.Seek(bytesOf(key))
	if string(found) == key && found != nil {
		return record
	}
	k.gap(k.cursor, found, key)
	return nil
}

// get gives the value of a key; nil when it is absent.
func (k *fileKeys) get(key string) []byte {
	if record := k.find(key); record != nil {
		return k.open(bytesOf(key), record)
	}
	return nil
}

// gap shows that nothing stands before the place that a cursor found for a key, and so not the key: it gives what comes before.
func (k *fileKeys) gap(c *bbolt.Cursor, found []byte, key string) (before, record []byte) {
	if found == nil {
		before, record = c.Last()
	} else {
		before, record = c.Prev()
	}
	if before != nil && string(before) >= key || found != nil && string(found) < key {
		damaged("the records of club %s are out of order near %.80q", k.club, key)
	}
	k.edge(before, record, found)
	return before, record
}

func clubListKey() []byte { return []byte("clubs") }

// clubList reads which clubs have keys.
func clubList(under *bbolt.Tx) []string {
	record := under.Bucket(metaBucket()).Get(clubListKey())
	if len(record) < 4 || binary.BigEndian.Uint32(record) != crc32.Checksum(record[4:], castagnoli) {
		damaged("the list of clubs is not as it was written")
	}
	return strings.Fields(string(record[4:]))
}

// writeClubList keeps which clubs have keys.
func writeClubList(under *bbolt.Tx, clubs []string) error {
	text := strings.Join(clubs, "\n")
	record := binary.BigEndian.AppendUint32(nil, crc32.Checksum([]byte(text), castagnoli))
	return under.Bucket(metaBucket()).Put(clubListKey(), append(record, text...))
}

// addSums takes a file from schema number 1 to 2.
func addSums(db *bbolt.DB) error {
	keys := map[string][]string{}
	err := db.Update(func(tx *bbolt.Tx) error {
		var clubs []string
		all := tx.Bucket(clubsBucket())
		err := all.ForEachBucket(func(club []byte) error {
			return all.Bucket(club).ForEach(func(key, _ []byte) error {
				keys[string(club)] = append(keys[string(club)], string(key))
				return nil
			})
		})
		if err != nil {
			return err
		}
		_ = all.ForEachBucket(func(club []byte) error { clubs = append(clubs, string(club)); return nil })
		for _, club := range clubs {
			if len(keys[club]) == 0 {
				err = errors.Join(err, all.DeleteBucket([]byte(club)))
			}
		}
		return errors.Join(err, writeClubList(tx, slices.Sorted(maps.Keys(keys))))
	})
	if err != nil {
		return err
	}
	at := map[string]int{}
	return eachRecord(db, func(club, key string, value []byte) ([]byte, error) {
		at[club]++
		next := keys[club][at[club]%len(keys[club])]
		return sumsOf(club).sum(written(key, value).record, key, bytesOf(next)), nil
	})
}
