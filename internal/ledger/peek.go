package ledger

import (
	"bytes"
	"sync"

	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// Most calls read the same few records: the club, a ride, its policy, the caller. What a record's bytes mean is kept, and
// handed out again for as long as the store has the very same bytes, so that nothing in it is ever stale. Who peeks at a
// record shares it with others, and must not change it.

// mostKept is how many bytes of records are kept, as stored; read they take a few times as many.
const mostKept = 4 << 20

// kept are records that were read, by club and key. When there are too many, all are let go but the newest half.
type kept struct {
	mu           sync.RWMutex
	fresh, aged  map[string]read
	bytes        int
	distrustful  bool
	distrustWith func(key string)
}

type read struct {
	data   []byte
	record proto.Message
}

func (k *kept) find(key string, data []byte) proto.Message {
	k.mu.RLock()
	found, ok := k.fresh[key]
	if !ok {
		found, ok = k.aged[key]
	}
	k.mu.RUnlock()
	if !ok || !bytes.Equal(found.data, data) {
		return nil
	}
	return found.record
}

func (k *kept) put(key string, data []byte, record proto.Message) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.bytes += len(data); k.bytes > mostKept/2 || k.fresh == nil {
		k.fresh, k.aged, k.bytes = map[string]read{}, k.fresh, len(data)
	}
	k.fresh[key] = read{data, record}
}

// Distrust has every shared record held against its bytes whenever it is handed out: told is called with the key of one that
// somebody changed. For tests.
func (l *Ledger) Distrust(told func(key string)) {
	l.kept.distrustful, l.kept.distrustWith = true, told
}

// peek is load of a record that is shared.
func peek[T proto.Message](t *Tx, key, name string, fresh func() T) (T, error) {
	data, err := t.tx.Get(key)
	if err != nil {
		return fresh(), err
	}
	if data == nil {
		return fresh(), fault.NotFound(name)
	}
	id := t.Club + "/" + key
	if found, ok := t.kept.find(id, data).(T); ok {
		if t.kept.distrustful {
			as := fresh()
			if err := decode(key, data, as); err != nil || !proto.Equal(as, found) {
				t.kept.distrustWith(id)
			}
		}
		return found, nil
	}
	record := fresh()
	if err := decode(key, data, record); err != nil {
		return record, err
	}
	t.kept.put(id, data, record)
	return record, nil
}

// PeekClub is ClubRecord, shared: it must not be changed. So are all that follow.
func (t *Tx) PeekClub() (*pb.Club, error) {
	return peek(t, "club", names.Club(t.Club), func() *pb.Club { return &pb.Club{} })
}

// PeekMember is Member, shared.
func (t *Tx) PeekMember(id string) (*pb.Member, error) {
	return peek(t, "member/"+id, names.Member(t.Club, id), func() *pb.Member { return &pb.Member{} })
}

// PeekRide is Ride, shared.
func (t *Tx) PeekRide(id string) (*pb.Ride, error) {
	return peek(t, "ride/"+id, names.Ride(t.Club, id), func() *pb.Ride { return &pb.Ride{} })
}

// PeekBike is Bike, shared.
func (t *Tx) PeekBike(member, id string) (*pb.Bike, error) {
	return peek(t, "bike/"+member+"/"+id, names.Bike(t.Club, member, id), func() *pb.Bike { return &pb.Bike{} })
}

// PeekRoster is Roster, shared.
func (t *Tx) PeekRoster(ride string, number int32) (*pb.Roster, error) {
	return peek(t, rosterKey(ride, number), names.Roster(t.Club, ride, number), func() *pb.Roster { return &pb.Roster{} })
}

// PeekPolicyOn is PolicyOn, shared.
func (t *Tx) PeekPolicyOn(day string) (*pb.PolicyRevision, error) {
	number, err := t.policyNumberOn(day)
	if err != nil {
		return nil, err
	}
	return peek(t, policyKey(number), names.Policy(t.Club, number), func() *pb.PolicyRevision { return &pb.PolicyRevision{} })
}
