package ledger

import (
	"context"
	"time"

	"google.golang.org/protobuf/proto"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// FormerMember stands where the name of a member stood who was erased.
const FormerMember = "former member"

// owned are the kinds of records that belong to one member: what comes before the member's id in their keys.
var owned = []string{"device/", "bike/", "declaration/", "care/", "ridden/", "lookover/", "request/", "reading/"}

// EraseOwned deletes every record that belongs to a member, and leaves of the member's own nothing but the id. What is
// deleted lies in the store's file until Scrub; that it is owed is remembered.
func (t *Tx) EraseOwned(member string) error {
	record := &pb.Member{Name: names.Member(t.Club, member), DisplayName: FormerMember, ErasedAt: t.Stamp()}
	var keys []string
	err := t.Devices(member, func(device *pb.DeviceRecord) error {
		key, err := hashKey("token/", device.TokenSha256)
		keys = append(keys, key)
		return err
	})
	if err != nil {
		return err
	}
	for _, kind := range owned {
		more, err := t.keys(kind + member + "/")
		if err != nil {
			return err
		}
		keys = append(keys, more...)
	}
	for _, key := range append(keys, contactPrefix+member) {
		if err := t.tx.Delete(key); err != nil {
			return err
		}
	}
	if err := t.OweScrub(member); err != nil {
		return err
	}
	return t.SaveMember(record)
}

// keys lists the keys that begin with prefix.
func (t *Tx) keys(prefix string) (keys []string, err error) {
	return keys, t.tx.Scan(prefix, "", func(key string, _ []byte) (bool, error) {
		keys = append(keys, key)
		return true, nil
	})
}

// DropInvites deletes the invites that are meant.
func (t *Tx) DropInvites(meant func(*pb.Invite) bool) error {
	var keys []string
	err := t.Invites(func(record *pb.InviteRecord) error {
		if !meant(record.Invite) {
			return nil
		}
		key, err := hashKey("invite/", record.CodeSha256)
		keys = append(keys, key)
		return err
	})
	for _, key := range keys {
		if err == nil {
			err = t.tx.Delete(key)
		}
	}
	return err
}

// RewriteRosters writes every issue of a ride's roster anew that change says has changed. It is for erasing alone: otherwise
// an issue stays as it was published.
func (t *Tx) RewriteRosters(ride string, change func(*pb.Roster) (bool, error)) error {
	return rewrite(t, "roster/"+ride+"/", func() *pb.Roster { return &pb.Roster{} }, change)
}

// RewriteMarks is RewriteRosters for the marks of a ride's roll call.
func (t *Tx) RewriteMarks(ride string, change func(*pb.Mark) (bool, error)) error {
	return rewrite(t, "mark/"+ride+"/", func() *pb.Mark { return &pb.Mark{} }, change)
}

// RewriteNotices is RewriteRosters for what was told of a ride's overdue riders.
func (t *Tx) RewriteNotices(ride string, change func(*pb.Notice) (bool, error)) error {
	return rewrite(t, "notice/"+ride+"/", newNotice, change)
}

// RewriteIncidents is RewriteRosters for the incident records of a ride and what was appended to them.
func (t *Tx) RewriteIncidents(ride string, change func(*pb.Incident) (bool, error), added func(*pb.IncidentAmendment) (bool, error)) error {
	if err := rewrite(t, "incident/"+ride+"/", newIncident, change); err != nil {
		return err
	}
	return rewrite(t, "incidentadd/"+ride+"/", newAmendment, added)
}

// RewriteNotes is RewriteRosters for what members wrote with their bikes, care and sign-ups, and others about them: closings, looks over
// bikes, readings of contacts.
func (t *Tx) RewriteNotes(change func(proto.Message) bool) error {
	for kind, fresh := range map[string]func() proto.Message{
		"bike/":        func() proto.Message { return &pb.Bike{} },
		"declaration/": func() proto.Message { return &pb.Declaration{} },
		"care/":        func() proto.Message { return &pb.CareEntry{} },
		"signup/":      func() proto.Message { return &pb.Signup{} },
		"closing/":     func() proto.Message { return &pb.Closing{} },
		"lookover/":    func() proto.Message { return &pb.LookOver{} },
		"reading/":     func() proto.Message { return &pb.ContactReading{} },
	} {
		if err := rewrite(t, kind, fresh, func(record proto.Message) (bool, error) { return change(record), nil }); err != nil {
			return err
		}
	}
	return nil
}

func rewrite[T proto.Message](t *Tx, prefix string, fresh func() T, change func(T) (bool, error)) error {
	changed := map[string]proto.Message{}
	err := t.tx.Scan(prefix, "", func(key string, value []byte) (bool, error) {
		record := fresh()
		if err := decode(key, value, record); err != nil {
			return false, err
		}
		is, err := change(record)
		if is {
			changed[key] = record
		}
		return err == nil, err
	})
	for key, record := range changed {
		if err == nil {
			err = t.save(key, record)
		}
	}
	return err
}

// Scrub rewrites the store, if any club owes it since something was deleted, and tells whether it did.
func (l *Ledger) Scrub(ctx context.Context) (bool, error) {
	owed, err := l.Due(ctx, dueScrub, time.Time{}, time.Time{})
	if err != nil || len(owed) == 0 {
		return false, err
	}
	if err := l.store.Scrub(ctx); err != nil {
		return false, err
	}
	for _, one := range owed { // only what was owed before: more may have come since
		if err := l.Update(ctx, one.Club, func(tx *Tx) error { return tx.tx.Delete(dueScrub.key(one.At, one.ID)) }); err != nil {
			return true, err
		}
	}
	return true, nil
}
