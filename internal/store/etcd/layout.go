package etcd

import (
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Below the prefix of a store lie:
//
//	info                       a pb.StoreInfo: the number of the layout
//	duty/...                   who is on duty (duty.go)
//	listed/CLUB                empty; there while the club has keys
//	due/...\x00CLUB            empty; a key of the club that begins with due/ (agenda.go)
//	clubs/CLUB/version         written with every change of the club, see version
//	clubs/CLUB/keys/KEY        a record: the value, or where it lies
//	clubs/CLUB/packs/PACK      records that were made together, with their keys (pack.go)
//	clubs/CLUB/parts/BLOB/0000 parts of what is too large for one request
//
// etcd keeps sums of its own over all that it writes, so records have none.

// Schema is the number of the layout; a store in etcd has been there since 2. Number 3: what begins with due/ lies once more beside the
// clubs. Number 4: there are packs, which a program from before would not see. The records in a store are as old as in a file of the same
// program, whose number is another one.
const Schema = 4

func (s *Store) infoKey() string              { return s.prefix + "info" }
func (s *Store) listedKey(club string) string { return s.prefix + "listed/" + club }
func (s *Store) clubPrefix(club string) string {
	return s.prefix + "clubs/" + club + "/"
}

// names are where the keys of one club lie.
type names struct{ all, version, keys, packs, parts, listed string }

func (s *Store) namesOf(club string) names {
	all := s.clubPrefix(club)
	return names{all, all + "version", all + "keys/", all + "packs/", all + "parts/", s.listedKey(club)}
}

func (n names) blob(token string) string { return n.parts + token + "/" }
func (n names) part(token string, part int) string {
	return fmt.Sprintf("%s%s/%04d", n.parts, token, part)
}

// partOf takes the key of a part apart, without n.parts.
func partOf(key string) (token string, ok bool) {
	token, _, ok = strings.Cut(key, "/")
	return token, ok
}

// blob is where bytes lie that are too many for one request.
type blob struct {
	token string
	parts int
}

// entry is what a club has under a key. Where the value lies in a blob, it is read already.
type entry struct {
	value []byte
	// lies is nil where the value lies under the key itself. It is one pointer, since entries are copied with their neighbours.
	lies *place
}

// place is where a value lies: in a blob, or in the pack of that token.
type place struct {
	blob blob
	pack string
}

// blob is the blob that it lies in; nothing: in none.
func (e entry) blob() (in blob) {
	if e.lies != nil {
		in = e.lies.blob
	}
	return in
}

// pack is the token of the pack that it lies in; "": in none.
func (e entry) pack() (token string) {
	if e.lies != nil {
		token = e.lies.pack
	}
	return token
}

// What a record begins with.
const (
	inline = 0 // and the value follows
	apart  = 1 // and where it lies
)

var errRecord = errors.New("is not as this program writes records; it was changed by something else")

func (e entry) record() []byte {
	if blob := e.blob(); blob.token != "" {
		return append([]byte{apart}, blob.text()...)
	}
	return append(append(make([]byte, 0, 1+len(e.value)), inline), e.value...)
}

// readRecord reads a record; the value of one that lies in a blob is still missing.
func readRecord(record []byte) (e entry, err error) {
	switch {
	case len(record) > 0 && record[0] == inline:
		return entry{value: record[1:]}, nil
	case len(record) > 0 && record[0] == apart:
		blob, err := readBlob(string(record[1:]))
		return entry{lies: &place{blob: blob}}, err
	}
	return e, errRecord
}

func (b blob) text() string { return fmt.Sprintf("%s %d", b.token, b.parts) }

func readBlob(text string) (b blob, err error) {
	if n, err := fmt.Sscanf(text, "%s %d", &b.token, &b.parts); n != 2 || err != nil || b.parts < 1 || strings.Contains(b.token, "/") {
		return b, errRecord
	}
	return b, nil
}

// version is what lies under the version key of a club: a token that is another for every change, by which who made it knows it
// again, and where the changes lie of a transaction that was too large for one request, until they are carried out.
type version struct {
	token   string
	pending blob
}

// packsMark stands in each version after the token. A program from before there were packs takes it for a blob that cannot be, and stops: it may
// be running still, cut off from etcd when the store was taken to this schema, and would serve a club without what lies in packs.
const packsMark = "packs/"

func (v version) text() string {
	text := v.token + " " + packsMark
	if v.pending.token != "" {
		text += " " + v.pending.text()
	}
	return text
}

// readVersion reads a version, also one without the mark, from before there were packs.
func readVersion(text string) (v version, err error) {
	token, rest, more := strings.Cut(text, " ")
	v.token = token
	if after, marked := strings.CutPrefix(rest, packsMark); marked {
		rest, more = strings.TrimPrefix(after, " "), after != ""
	}
	if more {
		v.pending, err = readBlob(rest)
	}
	if token == "" {
		err = errRecord
	}
	return v, err
}

// change is one key that a transaction changes: to a record, or, where it is nil, to nothing. Drops is the blob that nobody needs
// then, leaves the pack that it is in no longer, and pack the one that it goes into.
type change struct {
	key          string
	record       []byte
	drops        string
	leaves, pack string
	// fresh: it was not there, and lies in no blob.
	fresh bool
}

// appendChanges writes changes down, as they lie in the blob of a transaction.
func appendChanges(to []byte, changes []change) []byte {
	size := 0
	for _, c := range changes {
		size += len(c.key) + len(c.record) + len(c.drops) + 3*binary.MaxVarintLen32
	}
	to = slices.Grow(to, size)
	for _, c := range changes {
		for _, part := range [][]byte{[]byte(c.key), c.record, []byte(c.drops)} {
			to = binary.AppendUvarint(to, uint64(len(part)))
			to = append(to, part...)
		}
	}
	return to
}

func readChanges(data []byte) (changes []change, err error) {
	next := func() (part []byte) {
		length, n := binary.Uvarint(data)
		if n <= 0 || length > uint64(len(data)-n) {
			err, data = errRecord, nil
			return nil
		}
		part, data = data[n:n+int(length)], data[n+int(length):]
		return part
	}
	for len(data) > 0 && err == nil {
		c := change{key: string(next()), record: next(), drops: string(next())}
		if len(c.record) == 0 {
			c.record = nil // a record has a byte at least
		}
		changes = append(changes, c)
	}
	return changes, err
}
