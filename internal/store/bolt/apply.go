package bolt

import (
	"fmt"
	"slices"

	"go.etcd.io/bbolt"
)

// apply puts the writes into the file's transaction. What is read for it is read first, while the file is as it was.
func (p *pending) apply(under *bbolt.Tx) error {
	records := p.records()
	if p.file.bucket == nil || p.isEmpty() { // the first record, or none any more
		if err := p.begunOrEnded(under, len(records) > 0); err != nil || p.file.bucket == nil {
			return err
		}
	}
	for _, e := range records {
		var err error
		if e.gone() {
			err = p.file.bucket.Delete(bytesOf(e.key))
		} else {
			err = p.file.bucket.Put(bytesOf(e.key), e.record)
		}
		if err != nil {
			return fmt.Errorf("writing %.80q (%d bytes): %w", e.key, len(e.record), err)
		}
	}
	return nil
}

// records are the writes with their sums, and the records whose next key changes with them.
func (p *pending) records() []entry {
	records := make([]entry, 0, 2*p.writes.len())
	around := &neighbours{p.walk(false), p.walk(true)}
	var before []string
	for at := (place{}); p.writes.at(at) != nil; at = p.writes.next(at) {
		e := *p.writes.at(at)
		b := p.beside(at, e.key)
		if e.gone() && !b.there {
			continue
		}
		switch {
		case e.gone() != b.there: // it stays, and what comes before it
		case b.before == nil || e.gone():
			before = append(before, around.before(e.key))
		case !b.writtenBefore:
			before = append(before, string(b.before))
		}
		if b.after == nil && !e.gone() {
			b.after = bytesOf(around.after(e.key))
		}
		if !e.gone() {
			p.file.sum(e.record, e.key, b.after)
		}
		records = append(records, e)
	}
	slices.Sort(before)
	for _, key := range slices.Compact(before) {
		if key == "" || p.writes.find(key) != nil {
			continue
		}
		e := written(key, p.file.get(key))
		p.file.sum(e.record, key, bytesOf(around.after(key)))
		records = append(records, e)
	}
	return records
}

// beside is what stands next to a key that is written, once all is; nil where that takes a longer look.
type beside struct {
	// there: the file has the key.
	there         bool
	before, after []byte
	// writtenBefore: before is written, too.
	writtenBefore bool
}

// beside looks at the place of a key among the writes, and at its place in the file, once.
func (p *pending) beside(at place, key string) (b beside) {
	var before, after []byte
	if p.file.bucket != nil {
		c := p.file.cursor
		found, record := c.Seek(bytesOf(key))
		if b.there = found != nil && string(found) == key; b.there {
			after, _ = c.Next()
			p.file.edge(found, record, after)
		} else {
			after = found
			before, _ = p.file.gap(c, found, key) // of a key that stays, or goes, nobody asks
		}
	}
	if prev := p.writes.at(p.writes.previous(at)); prev == nil || before != nil && string(before) > prev.key {
		b.before = before
	} else if !prev.gone() {
		b.before, b.writtenBefore = bytesOf(prev.key), true
	}
	if next := p.writes.at(p.writes.next(at)); next == nil || after != nil && string(after) < next.key {
		b.after = after
	} else if !next.gone() {
		b.after = bytesOf(next.key)
	}
	return b
}

// neighbours finds what stands beside keys once all is written.
type neighbours struct{ up, down *walk }

// after is the key that comes after another, after the last the first; "" when there is none.
func (n *neighbours) after(key string) string {
	for _, from := range []string{key + "\x00", ""} {
		n.up.from(from)
		if f, there := n.up.step(); there {
			return f.key()
		}
	}
	return ""
}

// before is the key that comes before another, before the first the last; "" when there is none.
func (n *neighbours) before(key string) string {
	for _, below := range []string{key, ""} {
		n.down.below(below)
		if f, there := n.down.step(); there {
			return f.key()
		}
	}
	return ""
}

// isEmpty tells whether nothing is left once all is written.
func (p *pending) isEmpty() bool {
	_, there := p.up("").step()
	return !there
}

// begunOrEnded makes the bucket of a club with its first record, or takes it away with its last.
func (p *pending) begunOrEnded(under *bbolt.Tx, begins bool) (err error) {
	clubs, name := clubList(under), []byte(p.file.club)
	switch {
	case p.file.bucket != nil:
		p.file.bucket = nil
		err = under.Bucket(clubsBucket()).DeleteBucket(name)
		clubs = slices.DeleteFunc(clubs, func(club string) bool { return club == p.file.club })
	case begins:
		p.file.bucket, err = under.Bucket(clubsBucket()).CreateBucket(name)
		clubs = append(clubs, p.file.club)
		slices.Sort(clubs)
	default:
		return nil
	}
	if err != nil {
		return fmt.Errorf("the records of club %s: %w", p.file.club, err)
	}
	return writeClubList(under, clubs)
}
