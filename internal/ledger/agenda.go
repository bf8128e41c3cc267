package ledger

import (
	"context"
	"fmt"
	"strings"
	"time"

	"gritward/internal/fault"
	"gritward/internal/names"
	"gritward/internal/store"
	pb "gritward/proto/gritward/v1"
)

// What the server on duty must come to by a time has a key in the agenda, which the store lists over all clubs: whoever looks what is
// due reads nothing of a club where nothing is. The keys are written with the record that they are about:
//
//	due/ride/START/RIDE                  a ride that is to be watched from its start on
//	due/letter/NEXT-TRY/RIDE/NUMBER      a letter that is still to be sent
//	due/kept/TIME/club                   when it is to be looked at what is kept too long
//	due/ruled/DAY/club                   from when on the club has a policy in force
//	due/scrub/TIME/WHY                   the store is to be rewritten

// DueKind is what is due.
type DueKind string

// The kinds of what is due.
const (
	DueRide   DueKind = "ride"
	DueLetter DueKind = "letter"
	DueKept   DueKind = "kept"
	dueRuled  DueKind = "ruled"
	dueScrub  DueKind = "scrub"
)

const (
	// WatchReach is how long after its start a ride is watched: a server that was stopped for less misses nobody. Its key stays, and
	// is looked at no longer, so that a clock that was ahead for a while takes nothing off the agenda. Ours.
	WatchReach = 3 * 24 * time.Hour
	// KeptEvery is how often it is looked at what is kept too long.
	KeptEvery = 24 * time.Hour
	// never is the day from which a club has a policy in force that has none.
	never = "9999-12-31"
)

// Due is something that is to be done in a club.
type Due struct {
	Club string
	// At is when, to the second.
	At time.Time
	// ID is what it is about: a ride, or RIDE/NUMBER of a letter.
	ID string
}

func (k DueKind) prefix() string { return store.DuePrefix + string(k) + "/" }

func (k DueKind) key(at time.Time, id string) string { return k.prefix() + sortable(at) + "/" + id }

// Due lists what of a kind is due from an instant until another, both included, in all clubs, the earliest first. A zero instant is
// no bound.
func (l *Ledger) Due(ctx context.Context, kind DueKind, from, until time.Time) (all []Due, err error) {
	first, before := kind.prefix(), strings.TrimSuffix(kind.prefix(), "/")+"0" // "0" comes after "/"
	if !from.IsZero() {
		first += sortable(from)
	}
	if !until.IsZero() {
		before = kind.prefix() + sortable(until.Add(time.Second))
	}
	found, err := l.store.Due(ctx, first, before)
	for _, one := range found {
		at, id, _ := strings.Cut(strings.TrimPrefix(one.Key, kind.prefix()), "/")
		due := Due{Club: one.Club, ID: id}
		if due.At, err = time.Parse(time.RFC3339, at); err != nil {
			return nil, fmt.Errorf("record %q of club %s is damaged: restore the store from a backup (%w)", one.Key, one.Club, err)
		}
		all = append(all, due)
	}
	return all, told(err)
}

// rideDue is the key of a ride in the agenda; "": it is not watched.
func rideDue(ride *pb.Ride) string {
	if ride.State == pb.Ride_CALLED_OFF {
		return ""
	}
	return DueRide.key(ride.StartAt.AsTime(), names.Last(ride.Name))
}

// watch puts a ride on the agenda whose riders may be overdue after what is written now.
func (t *Tx) watch(id string) error {
	ride, err := t.PeekRide(id)
	if fault.Is(err, pb.Reason_NOT_FOUND) {
		return nil
	}
	if err != nil {
		return err
	}
	return t.watchRide(nil, ride)
}

// watchRide puts a ride on the agenda as it becomes, in the place of what it was, or nil.
func (t *Tx) watchRide(was, ride *pb.Ride) error {
	before, after := "", rideDue(ride)
	if was != nil {
		before = rideDue(was)
	}
	return t.move(before, after)
}

// Unwatch takes a ride off the agenda, until something is written by which riders may be overdue.
func (t *Tx) Unwatch(due Due) error { return t.tx.Delete(DueRide.key(due.At, due.ID)) }

// letterDue is the key of a letter in the agenda; "": it is not to be sent.
func letterDue(letter *pb.Letter) (string, error) {
	if letter.State != pb.Letter_QUEUED {
		return "", nil
	}
	key, err := letterKey(names.Part(letter.Name, "rides"), names.Last(letter.Name))
	return DueLetter.key(letter.NextTryAt.AsTime(), key), err
}

// move takes one key away and writes another one; "" is none.
func (t *Tx) move(from, to string) error {
	if from != "" && from != to {
		if err := t.tx.Delete(from); err != nil {
			return err
		}
	}
	if to == "" {
		return nil
	}
	if there, err := t.tx.Get(to); err != nil || there != nil {
		return err
	}
	return t.tx.Put(to, nil)
}

// keptDue is the key by which it is looked at what is kept too long.
func (t *Tx) keptDue() (string, error) {
	last, err := t.Retained()
	if err != nil || last == nil {
		return DueKept.key(time.Time{}, "club"), err
	}
	return DueKept.key(last.AsTime().Add(KeptEvery+time.Second-1), "club"), nil
}

// ruledDue is the key that says from which day on a policy is in force.
func ruledDue(day string) string {
	if day == "" {
		day = never
	}
	return dueRuled.prefix() + day + "T00:00:00Z/club"
}

// ruledFrom is the first day of the earliest policy; "": there is none.
func (t *Tx) ruledFrom() (day string, err error) {
	return day, t.tx.Scan(policyDays, "", func(key string, _ []byte) (bool, error) {
		day, _, _ = strings.Cut(strings.TrimPrefix(key, policyDays), "/")
		return false, nil
	})
}

// Unruled lists the clubs in which no policy may be in force, whatever their time zone: those that have none, or whose first one
// counts from a day that begins somewhere on earth only within a day from now, or later.
func (l *Ledger) Unruled(ctx context.Context) (clubs []string, err error) {
	found, err := l.Due(ctx, dueRuled, l.Now().AddDate(0, 0, -1), time.Time{})
	for _, one := range found {
		clubs = append(clubs, one.Club)
	}
	return clubs, err
}

// agenda are the keys that the agenda of the club is to have, and those of rides that may have been watched already, which are there
// or not.
func (t *Tx) agenda() (keys, perhaps []string, err error) {
	err = t.Rides("", 0, func(ride *pb.Ride) error {
		key := rideDue(ride)
		if key == "" {
			return nil
		}
		fresh := ride.RosterNumber > 0 && ride.StartAt.AsTime().After(t.Now)
		for _, kind := range []string{"markno/", "closing/"} { // the clock may have been ahead when it was looked at
			if !fresh {
				break
			}
			there, err := t.keys(kind + names.Last(ride.Name) + "/")
			if err != nil {
				return err
			}
			fresh = len(there) == 0
		}
		if fresh {
			keys = append(keys, key)
		} else {
			perhaps = append(perhaps, key)
		}
		return nil
	})
	if err == nil {
		err = each(t, "letter/", "", func() *pb.Letter { return &pb.Letter{} }, func(letter *pb.Letter) error {
			key, err := letterDue(letter)
			if key != "" {
				keys = append(keys, key)
			}
			return err
		})
	}
	if err != nil {
		return nil, nil, err
	}
	kept, err := t.keptDue()
	first := ""
	if err == nil {
		err = t.Policies(func(one *pb.PolicyRevision) error {
			if first == "" || one.EffectiveFrom < first {
				first = one.EffectiveFrom
			}
			return nil
		})
	}
	return append(keys, kept, ruledDue(first)), perhaps, err
}

// makeAgenda writes the agenda of a store from before, which had other keys for what of it there was.
func (t *Tx) makeAgenda() error {
	keys, perhaps, err := t.agenda()
	if err != nil {
		return err
	}
	reach := DueRide.prefix() + sortable(t.Now.Add(-WatchReach))
	for _, key := range perhaps {
		if key >= reach {
			keys = append(keys, key)
		}
	}
	owed, err := t.keys("scrub-owed/")
	if err != nil {
		return err
	}
	for _, key := range owed {
		keys = append(keys, dueScrub.key(t.Now, names.Last(key)))
	}
	for _, old := range []string{DueRide.prefix(), DueLetter.prefix(), DueKept.prefix(), dueRuled.prefix(), "scrub-owed/", "queue/"} {
		gone, err := t.keys(old)
		if err != nil {
			return err
		}
		if err := t.reindex(gone, nil); err != nil {
			return err
		}
	}
	return t.reindex(nil, keys)
}

// agendaFaults tells what in the agenda of the club is not as the records have it.
func (t *Tx) agendaFaults() (faults []string, err error) {
	want, perhaps, err := t.agenda()
	if err != nil {
		return nil, err
	}
	missing, known := map[string]bool{}, map[string]bool{}
	for _, key := range want {
		missing[key], known[key] = true, true
	}
	for _, key := range perhaps {
		known[key] = true
	}
	there, err := t.keys(store.DuePrefix)
	for _, key := range there {
		delete(missing, key)
		if !known[key] && !strings.HasPrefix(key, dueScrub.prefix()) {
			faults = append(faults, fmt.Sprintf("%q points to nothing", key))
		}
	}
	for key := range missing {
		faults = append(faults, fmt.Sprintf("%q is missing", key))
	}
	return faults, err
}
