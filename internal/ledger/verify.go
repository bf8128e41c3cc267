package ledger

import (
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// Finding is something wrong with a record, in words for whoever looks after the server.
type Finding struct {
	// Key is where the record lies in the club's store; empty where it is about more than one.
	Key string `json:"record,omitempty"`
	// What is wrong with it.
	What string `json:"what"`
}

// Verify reads every record of the club: each must be of a kind that there is, be what its key says, and lie below something that
// is there; each way from one record to another must lead there, and the indexes must be as the records have them. found is told what does not hold, and every is called for each
// record. It does not follow the audit log, as VerifyAudit does. The error is about a store that cannot be read on.
func (t *Tx) Verify(found func(Finding), every func()) error {
	err := t.tx.Scan("", "", func(key string, value []byte) (bool, error) {
		every()
		at := &verifying{tx: t, key: key, found: found}
		at.look(value)
		return at.err == nil, at.err
	})
	if err != nil {
		return err
	}
	faults, err := t.IndexFaults()
	if err != nil { // of a record that cannot be read, which was found above
		found(Finding{What: "the indexes cannot be held against the records: " + err.Error()})
	}
	for _, fault := range faults {
		found(Finding{What: "index " + fault})
	}
	return nil
}

// verifying is one record that is being looked at.
type verifying struct {
	tx    *Tx
	key   string
	found func(Finding)
	// err ends the verification: the store cannot be read.
	err error
}

func (v *verifying) wrong(what string, values ...any) {
	v.found(Finding{Key: v.key, What: fmt.Sprintf(what, values...)})
}

// there holds that there is a record under a key, and gives its bytes.
func (v *verifying) there(key, why string) []byte {
	value, err := v.tx.tx.Get(key)
	if err != nil {
		v.err = err
	} else if value == nil {
		v.wrong("%s %s, which is not there", why, key)
	}
	return value
}

// below holds that a record lies below another one.
func (v *verifying) below(parts ...string) { v.there(strings.Join(parts, "/"), "lies below") }

// named holds the name in a record against the one that its key says.
func (v *verifying) named(name string, want ...any) {
	said := names.Club(v.tx.Club)
	for _, part := range want {
		said += fmt.Sprint("/", part)
	}
	if name != said {
		v.wrong("is called %.120q inside, and should be %s", name, said)
	}
}

// number reads a number at the end of a key.
func (v *verifying) number(digits string) int {
	n, err := strconv.Atoi(digits)
	if err != nil || n < 1 {
		v.wrong("should end in a number")
	}
	return n
}

// look holds a record against its kind.
func (v *verifying) look(value []byte) {
	name, rest, _ := strings.Cut(v.key, "/")
	kind, known := kinds[name]
	if !known {
		v.wrong("is of no kind that this program knows: a newer program wrote it, or it is damaged")
		return
	}
	ids := strings.SplitN(rest, "/", max(kind.parts, 1))
	if kind.parts != len(ids) && kind.parts > 0 || kind.parts == 0 && rest != "" {
		v.wrong("does not lie where such a record lies")
		return
	}
	kind.look(v, ids, value)
}

// kind says how many parts follow it in a key, and what must hold of a record.
type kind struct {
	parts int
	look  func(v *verifying, ids []string, value []byte)
}

// record is a kind whose records are messages of one type.
func record[T proto.Message](parts int, fresh func() T, hold func(v *verifying, ids []string, record T)) kind {
	return kind{parts, func(v *verifying, ids []string, value []byte) {
		into := fresh()
		if err := proto.Unmarshal(value, into); err != nil {
			v.wrong("cannot be read: it is damaged")
			return
		}
		hold(v, ids, into)
	}}
}

// kinds are all that there are, by what comes first in a key.
var kinds = map[string]kind{
	"club":   record(0, func() *pb.Club { return &pb.Club{} }, func(v *verifying, _ []string, r *pb.Club) { v.named(r.Name) }),
	"member": record(1, func() *pb.Member { return &pb.Member{} }, func(v *verifying, ids []string, r *pb.Member) { v.named(r.Name, "members", ids[0]) }),
	"device": record(2, func() *pb.DeviceRecord { return &pb.DeviceRecord{} }, holdDevice),
	"token":  {1, holdToken},
	"invite": record(1, func() *pb.InviteRecord { return &pb.InviteRecord{} }, holdInvite),
	"contact": record(1, func() *pb.SealedRecord { return &pb.SealedRecord{} }, func(v *verifying, ids []string, r *pb.SealedRecord) {
		v.below("member", ids[0])
	}),
	"reading": record(2, func() *pb.ContactReading { return &pb.ContactReading{} }, func(v *verifying, ids []string, r *pb.ContactReading) {
		v.named(r.Name, "members", ids[0], "readings", v.number(ids[1]))
		v.below("member", ids[0])
	}),
	"request": record(2, func() *pb.AnsweredRequest { return &pb.AnsweredRequest{} }, func(v *verifying, ids []string, _ *pb.AnsweredRequest) {
		v.below("member", ids[0])
	}),

	"bike": record(2, func() *pb.Bike { return &pb.Bike{} }, func(v *verifying, ids []string, r *pb.Bike) {
		v.named(r.Name, "members", ids[0], "bikes", ids[1])
		v.below("member", ids[0])
	}),
	"declaration": record(3, func() *pb.Declaration { return &pb.Declaration{} }, func(v *verifying, ids []string, r *pb.Declaration) {
		v.ofBike(ids, r.Name, "declarations")
	}),
	"care": record(3, func() *pb.CareEntry { return &pb.CareEntry{} }, func(v *verifying, ids []string, r *pb.CareEntry) {
		v.ofBike(ids, r.Name, "care")
	}),
	"lookover": record(3, newLookOver, func(v *verifying, ids []string, r *pb.LookOver) { v.ofBike(ids, r.Name, "lookovers") }),
	"ridden": record(3, func() *pb.RiddenRide { return &pb.RiddenRide{} }, func(v *verifying, ids []string, r *pb.RiddenRide) {
		if id := RiddenID(r); id != ids[2] {
			v.wrong("is about %s inside", id)
		}
		v.below("bike", ids[0], ids[1])
	}),

	"policy":      record(1, func() *pb.PolicyRevision { return &pb.PolicyRevision{} }, holdPolicy),
	"policy-text": {1, func(v *verifying, ids []string, _ []byte) { v.below("policy", ids[0]) }},

	"ride": record(1, func() *pb.Ride { return &pb.Ride{} }, func(v *verifying, ids []string, r *pb.Ride) {
		v.named(r.Name, "rides", ids[0])
		if r.RosterNumber > 0 {
			v.there(rosterKey(ids[0], r.RosterNumber), "has as its newest roster")
		}
	}),
	"route": record(1, func() *pb.RouteLine { return &pb.RouteLine{} }, func(v *verifying, ids []string, _ *pb.RouteLine) { v.below("ride", ids[0]) }),
	"signup": record(2, func() *pb.Signup { return &pb.Signup{} }, func(v *verifying, ids []string, r *pb.Signup) {
		v.ofRide(ids, r.Name, "signups", ids[1])
		v.there("member/"+ids[1], "is of")
	}),
	"roster": record(2, func() *pb.Roster { return &pb.Roster{} }, func(v *verifying, ids []string, r *pb.Roster) { v.ofRide(ids, r.Name, "rosters", v.number(ids[1])) }),
	"mark":   record(2, newMark, holdMark),
	"markno": record(2, newMark, func(v *verifying, ids []string, r *pb.Mark) {
		v.there("mark/"+ids[0]+"/"+names.Last(r.Name), "leads to")
	}),
	"closing": record(2, newClosing, func(v *verifying, ids []string, r *pb.Closing) { v.below("ride", ids[0]) }),
	"change": record(2, func() *pb.RideChange { return &pb.RideChange{} }, func(v *verifying, ids []string, r *pb.RideChange) {
		if int64(v.number(ids[1])) != r.Number {
			v.wrong("says that it is change %d", r.Number)
		}
		v.below("ride", ids[0])
	}),
	"notice": record(2, newNotice, func(v *verifying, ids []string, r *pb.Notice) { v.ofRide(ids, r.Name, "notices", v.number(ids[1])) }),
	"noticeto": record(4, newNotice, func(v *verifying, ids []string, r *pb.Notice) {
		v.there("notice/"+ids[2]+"/"+ids[3], "leads to")
		v.there("member/"+ids[0], "is for")
	}),
	"letter": record(2, func() *pb.Letter { return &pb.Letter{} }, func(v *verifying, ids []string, r *pb.Letter) {
		v.ofRide(ids, r.Name, "letters", v.number(ids[1]))
	}),
	"time": record(3, func() *pb.RecordedTime { return &pb.RecordedTime{} }, func(v *verifying, ids []string, r *pb.RecordedTime) {
		if RecordedTimeID(r) != strings.Join(ids, "/") {
			v.wrong("is about %.120q inside", RecordedTimeID(r))
		}
		v.below("ride", ids[2])
	}),
	"incident": record(2, newIncident, func(v *verifying, ids []string, r *pb.Incident) { v.ofRide(ids, r.Name, "incidents", v.number(ids[1])) }),
	"incidentadd": record(3, newAmendment, func(v *verifying, ids []string, r *pb.IncidentAmendment) {
		if v.number(ids[2]) != int(r.Number) {
			v.wrong("says that it is amendment %d", r.Number)
		}
		v.below("incident", ids[0], ids[1])
	}),

	"share": record(1, newShare, func(v *verifying, ids []string, r *pb.ShareRecord) {
		if hex.EncodeToString(r.KeySha256) != ids[0] {
			v.wrong("is not found by its key")
		}
		v.below("ride", rideOfShare(r))
	}),
	"tally": record(1, func() *pb.SignupTally { return &pb.SignupTally{} }, func(v *verifying, ids []string, _ *pb.SignupTally) { v.below("ride", ids[0]) }),

	// Indexes and the agenda: IndexFaults holds them against the records.
	"ridestart": {2, asItIs}, "ward": {2, asItIs}, "role": {2, asItIs}, "namelike": {3, asItIs}, "erased": {1, asItIs}, "policyday": {2, asItIs},
	"due": {3, asItIs},
	// What was there before there was an agenda: Index puts it on.
	"queue": {2, asItIs}, "scrub-owed": {1, asItIs},
	"indexed": {0, asItIs}, "times-changed": {0, asItIs},

	"audit":    record(1, func() *pb.AuditEntry { return &pb.AuditEntry{} }, func(*verifying, []string, *pb.AuditEntry) {}),
	"retained": record(0, newStamp, func(*verifying, []string, *timestamppb.Timestamp) {}),
}

func asItIs(*verifying, []string, []byte) {}

func newStamp() *timestamppb.Timestamp { return &timestamppb.Timestamp{} }

// ofBike holds a numbered record of a bike.
func (v *verifying) ofBike(ids []string, name, collection string) {
	v.named(name, "members", ids[0], "bikes", ids[1], collection, v.number(ids[2]))
	v.below("bike", ids[0], ids[1])
}

// ofRide holds a record of a ride.
func (v *verifying) ofRide(ids []string, name, collection string, id any) {
	v.named(name, "rides", ids[0], collection, id)
	v.below("ride", ids[0])
}

func holdDevice(v *verifying, ids []string, r *pb.DeviceRecord) {
	v.named(r.GetDevice().GetName(), "members", ids[0], "devices", ids[1])
	v.below("member", ids[0])
	if r.GetDevice().GetRevokedAt() == nil {
		if way := v.there("token/"+hex.EncodeToString(r.TokenSha256), "is found by"); way != nil && string(way) != v.key {
			v.wrong("is not where its token leads")
		}
	}
}

func holdToken(v *verifying, ids []string, value []byte) {
	if !strings.HasPrefix(string(value), "device/") {
		v.wrong("leads to %.80q, which is no device", value)
		return
	}
	v.there(string(value), "leads to")
}

func holdInvite(v *verifying, ids []string, r *pb.InviteRecord) {
	if _, err := names.In(v.tx.Club, "name", r.GetInvite().GetName(), names.InviteShape); err != nil {
		v.wrong("%v", err)
	}
	if hex.EncodeToString(r.CodeSha256) != ids[0] {
		v.wrong("is not found by its code")
	}
}

func holdPolicy(v *verifying, ids []string, r *pb.PolicyRevision) {
	v.named(r.Name, "policies", v.number(ids[0]))
	if r.Text == "" { // a record written before texts had their own holds it itself
		v.there("policy-text/"+ids[0], "has its text in")
	}
}

func holdMark(v *verifying, ids []string, r *pb.Mark) {
	v.ofRide(ids, r.Name, "marks", ids[1])
	way := v.there(markNumberKey(ids[0], r.Number), "is found by")
	back := newMark()
	if err := proto.Unmarshal(way, back); err == nil && way != nil && back.Name != r.Name {
		v.wrong("is not where its number leads")
	}
}
