package ledger

import (
	"context"
	"crypto/sha256"
	"fmt"
	"slices"
	"strings"
	"time"

	"gritward/internal/lookalike"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// What is looked for otherwise than by its id lies under a second key, an index, so that no call reads a whole club for it.
// Saving a record brings its keys up to date. A store from before has none of them until Index has run: whoever asks reads
// all records then.

const (
	// indexedKey is where the number of the newest set of indexes lies that all records of the club are in.
	indexedKey = "indexed"
	// indexNumber is to be raised with each index that is added.
	indexNumber = "2"

	rideStarts = "ridestart/"
	wards      = "ward/"
	roles      = "role/"
	namesLike  = "namelike/"
	erased     = "erased/"
	policyDays = "policyday/"
)

// indexes are the kinds of keys that are indexes, all without values.
var indexes = []string{rideStarts, wards, roles, namesLike, erased, policyDays}

// rideKeys are the keys of a ride in indexes.
func rideKeys(ride *pb.Ride) []string {
	return []string{rideStarts + sortable(ride.StartAt.AsTime()) + "/" + names.Last(ride.Name)}
}

// sortable writes an instant so that earlier ones come first.
func sortable(at time.Time) string { return at.UTC().Format("2006-01-02T15:04:05Z") }

// memberKeys are the keys of a member in indexes: by whose care the member is in, by roles that few have, by what the name
// can be taken for, and that the member was erased.
func memberKeys(member *pb.Member) (keys []string) {
	id := names.Last(member.Name)
	for _, other := range []string{member.Guardian, member.Host} {
		if other != "" {
			keys = append(keys, wards+names.Last(other)+"/"+id)
		}
	}
	for _, role := range member.Roles {
		if role != pb.Role_MEMBER && role != pb.Role_GUEST {
			keys = append(keys, roles+role.String()+"/"+id)
		}
	}
	for _, like := range likes(member.DisplayName) {
		keys = append(keys, like+id)
	}
	if member.ErasedAt != nil {
		keys = append(keys, erased+id)
	}
	slices.Sort(keys)
	return slices.Compact(keys)
}

// likes are below what names lie that can be taken for a name: the key has a digest of what it looks like.
func likes(name string) (prefixes []string) {
	for kind, looks := range map[string]string{"seen": lookalike.Seen(name), "plain": lookalike.Plain(name)} {
		if looks != "" {
			sum := sha256.Sum256([]byte(looks))
			prefixes = append(prefixes, fmt.Sprintf("%s%s/%x/", namesLike, kind, sum[:12]))
		}
	}
	return prefixes
}

func policyDayKey(revision *pb.PolicyRevision) string {
	return fmt.Sprintf("%s%s/%08d", policyDays, revision.EffectiveFrom, revision.Number)
}

// reindex takes keys away that a record no longer has, and adds those that are new.
func (t *Tx) reindex(before, after []string) error {
	for _, key := range before {
		if !slices.Contains(after, key) {
			if err := t.tx.Delete(key); err != nil {
				return err
			}
		}
	}
	for _, key := range after {
		if !slices.Contains(before, key) {
			if err := t.tx.Put(key, nil); err != nil {
				return err
			}
		}
	}
	return nil
}

// indexed tells whether all records of the club are in the indexes.
func (t *Tx) indexed() (bool, error) {
	number, err := t.tx.Get(indexedKey)
	return string(number) == indexNumber, err
}

// indexKeys are all keys that the indexes of the club are to have.
func (t *Tx) indexKeys() (keys []string, err error) {
	err = t.Rides("", 0, func(ride *pb.Ride) error { keys = append(keys, rideKeys(ride)...); return nil })
	if err == nil {
		err = t.Members("", 0, func(member *pb.Member) error { keys = append(keys, memberKeys(member)...); return nil })
	}
	if err == nil {
		err = t.Policies(func(one *pb.PolicyRevision) error { keys = append(keys, policyDayKey(one)); return nil })
	}
	return keys, err
}

// index puts all records of a club into the indexes, where they are not.
func (t *Tx) index() error {
	keys, err := t.indexKeys()
	if err != nil {
		return err
	}
	if err := t.reindex(nil, keys); err != nil {
		return err
	}
	if err := t.makeAgenda(); err != nil {
		return err
	}
	return t.tx.Put(indexedKey, []byte(indexNumber))
}

// Index puts the records of every club into the indexes where a store from before does not have them there, and tells of
// which clubs it did.
func (l *Ledger) Index(ctx context.Context) (done []string, err error) {
	clubs, err := l.Clubs(ctx)
	for _, club := range clubs {
		is := false
		if err = l.View(ctx, club, func(tx *Tx) (err error) { is, err = tx.indexed(); return err }); err == nil && !is {
			done = append(done, club)
			err = l.Update(ctx, club, (*Tx).index)
		}
		if err != nil {
			return done, err
		}
	}
	return done, err
}

// IndexFaults tells what in the indexes, the agenda and the tallies of the club is not as the records have it: nothing, unless the file was
// changed by others.
func (t *Tx) IndexFaults() (faults []string, err error) {
	is, err := t.indexed()
	if err != nil || !is {
		return nil, err
	}
	want, err := t.indexKeys()
	if err != nil {
		return nil, err
	}
	missing := make(map[string]bool, len(want))
	for _, key := range want {
		missing[key] = true
	}
	for _, kind := range indexes {
		keys, err := t.keys(kind)
		if err != nil {
			return nil, err
		}
		for _, key := range keys {
			if !missing[key] {
				faults = append(faults, fmt.Sprintf("%q points to nothing", key))
			}
			delete(missing, key)
		}
	}
	for key := range missing {
		faults = append(faults, fmt.Sprintf("%q is missing", key))
	}
	due, err := t.agendaFaults()
	if err != nil {
		return nil, err
	}
	faults = append(faults, due...)
	tallies, err := t.keys("tally/")
	for _, key := range tallies {
		var wrong string
		if wrong, err = t.tallyFault(strings.TrimPrefix(key, "tally/")); err != nil {
			break
		}
		if wrong != "" {
			faults = append(faults, wrong)
		}
	}
	slices.Sort(faults)
	return faults, err
}

// RidesStarting visits the rides that start from an instant until before another, latest first. A zero instant is no bound.
func (t *Tx) RidesStarting(from, before time.Time, visit func(*pb.Ride) error) error {
	is, err := t.indexed()
	if err != nil {
		return err
	}
	if !is {
		return t.Rides("", 0, func(ride *pb.Ride) error {
			if at := ride.StartAt.AsTime(); at.Before(from) || !before.IsZero() && !at.Before(before) {
				return nil
			}
			return visit(ride)
		})
	}
	until := ""
	if !before.IsZero() {
		until = rideStarts + sortable(before.Add(time.Second-1)) // a start has no parts of a second
	}
	return visited(t.tx.ScanDown(rideStarts, until, func(key string, _ []byte) (bool, error) {
		if !from.IsZero() && key < rideStarts+sortable(from.Add(time.Second-1)) {
			return false, nil
		}
		ride, err := t.Ride(names.Last(key))
		if err == nil {
			err = visit(ride)
		}
		return err == nil, err
	}))
}

// Wards visits the members whom another is the guardian or host of.
func (t *Tx) Wards(of string, visit func(*pb.Member) error) error {
	return t.found([]string{wards + of + "/"}, func(member *pb.Member) bool {
		return names.Last(member.Guardian) == of || names.Last(member.Host) == of
	}, visit)
}

// MembersWith visits the members with a role that few have: not MEMBER or GUEST.
func (t *Tx) MembersWith(role pb.Role, visit func(*pb.Member) error) error {
	return t.found([]string{roles + role.String() + "/"}, func(member *pb.Member) bool { return slices.Contains(member.Roles, role) }, visit)
}

// MembersLike visits the members whose names can be taken for a name.
func (t *Tx) MembersLike(name string, visit func(*pb.Member) error) error {
	return t.found(likes(name), func(member *pb.Member) bool { return lookalike.Alike(member.DisplayName, name) }, visit)
}

// found visits the members below keys of indexes, or without indexes those that are meant, each once, in the order of their
// ids.
func (t *Tx) found(below []string, meant func(*pb.Member) bool, visit func(*pb.Member) error) error {
	is, err := t.indexed()
	if err != nil {
		return err
	}
	if !is {
		return t.Members("", 0, func(member *pb.Member) error {
			if !meant(member) {
				return nil
			}
			return visit(member)
		})
	}
	var ids []string
	for _, prefix := range below {
		keys, err := t.keys(prefix)
		if err != nil {
			return err
		}
		for _, key := range keys {
			ids = append(ids, names.Last(key))
		}
	}
	slices.Sort(ids)
	for _, id := range slices.Compact(ids) {
		member, err := t.Member(id)
		if err == nil {
			err = visit(member)
		}
		if err != nil {
			return visited(err)
		}
	}
	return nil
}

// Erased lists the ids of the club's members who were erased.
func (t *Tx) Erased() (ids []string, err error) {
	is, err := t.indexed()
	if err != nil {
		return nil, err
	}
	if is {
		keys, err := t.keys(erased)
		for _, key := range keys {
			ids = append(ids, names.Last(key))
		}
		return ids, err
	}
	return ids, t.Members("", 0, func(member *pb.Member) error {
		if member.ErasedAt != nil {
			ids = append(ids, names.Last(member.Name))
		}
		return nil
	})
}
