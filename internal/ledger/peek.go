package ledger

import (
	"bytes"
	"slices"
	"sync"

	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	"gritward/internal/names"
	"gritward/internal/store"
	pb "gritward/proto/gritward/v1"
)

// Most calls read the same few records: the club, a ride, its policy, the caller. What a record's bytes mean is kept, and
// handed out again for as long as the store has the very same bytes, so that nothing in it is ever stale. Who peeks at a
// record shares it with others, and must not change it.

// mostKept is how many bytes of records are kept, as stored; read they take a few times as many.
const mostKept = 4 << 20

// kept are records that were read. When there are too many, all are let go but the newest half.
type kept struct {
	mu           sync.RWMutex
	fresh, aged  map[lain]read
	bytes        int
	distrustful  bool
	distrustWith func(key string)
}

// lain is where a record lies.
type lain struct{ club, key string }

type read struct {
	data   []byte
	record proto.Message
}

// find gives what was read there last; its data is nil when nothing is kept.
func (k *kept) find(at lain) read {
	k.mu.RLock()
	defer k.mu.RUnlock()
	found, ok := k.fresh[at]
	if !ok {
		found = k.aged[at]
	}
	return found
}

func (k *kept) put(at lain, data []byte, record proto.Message) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.bytes += len(data); k.bytes > mostKept/2 || k.fresh == nil {
		k.fresh, k.aged, k.bytes = map[lain]read{}, k.fresh, len(data)
	}
	k.fresh[at] = read{data, record}
}

// noted is a transaction of the store that remembers what was peeked at in it, until it is written over.
type noted struct {
	store.Tx
	notes []note
}

// note says what record a key has; nil: it is absent.
type note struct {
	key    string
	record proto.Message
}

// mostNoted is how many notes there are at the most: as many as are quickly looked through.
const mostNoted = 16

// noteRooms are where notes are taken: nobody keeps them.
var noteRooms = sync.Pool{New: func() any { return new([mostNoted]note) }}

// noting gives room for notes until end is called.
func (n *noted) noting() (end func()) {
	room := noteRooms.Get().(*[mostNoted]note) //nolint:errcheck,forcetypeassert // of what New makes
	n.notes = room[:0]
	return func() {
		n.notes = nil
		clear(room[:])
		noteRooms.Put(room)
	}
}

func (n *noted) note(key string, record proto.Message) {
	if len(n.notes) < mostNoted {
		n.notes = append(n.notes, note{key, record})
	}
}

func (n *noted) noteOf(key string) (record proto.Message, known bool) {
	for i := range n.notes {
		if n.notes[i].key == key {
			return n.notes[i].record, true
		}
	}
	return nil, false
}

func (n *noted) forget(key string) {
	n.notes = slices.DeleteFunc(n.notes, func(one note) bool { return one.key == key })
}

// Put implements store.Tx.
func (n *noted) Put(key string, value []byte) error {
	n.forget(key)
	return n.Tx.Put(key, value)
}

// Delete implements store.Tx.
func (n *noted) Delete(key string) error {
	n.forget(key)
	return n.Tx.Delete(key)
}

// Distrust has every shared record held against its bytes whenever it is handed out: told is called with the key of one that
// somebody changed. For tests.
func (l *Ledger) Distrust(told func(key string)) {
	l.kept.distrustful, l.kept.distrustWith = true, told
}

// message is a kind of record.
type message[R any] interface {
	*R
	proto.Message
}

// peek is load of a record that is shared.
func peek[R any, M message[R]](t *Tx, key string, name func() string) (M, error) {
	record, err := peekKept[R, M](t, key)
	if record == nil && err == nil {
		return new(R), fault.NotFound(name())
	}
	return record, err
}

// peekKept finds a record that is shared, in what this transaction or an earlier one read; nil when there is none.
func peekKept[R any, M message[R]](t *Tx, key string) (M, error) {
	if known, ok := t.tx.noteOf(key); ok {
		record, _ := known.(M)
		return record, distrusted(t, key, record)
	}
	at := lain{t.Club, key}
	if found := t.kept.find(at); found.data != nil {
		record, fits := found.record.(M)
		same, err := t.tx.Is(key, found.data)
		if err != nil {
			return nil, err
		}
		if same && fits {
			t.tx.note(key, record)
			return record, distrusted(t, key, record)
		}
	}
	data, record, err := readNoted[R, M](t, key)
	if record != nil && err == nil {
		t.kept.put(at, data, record)
	}
	return record, err
}

// peekOnce is peekKept of a record that changes with every call: it is kept for this transaction alone.
func peekOnce[R any, M message[R]](t *Tx, key string) (M, error) {
	if known, ok := t.tx.noteOf(key); ok {
		record, _ := known.(M)
		return record, distrusted(t, key, record)
	}
	_, record, err := readNoted[R, M](t, key)
	return record, err
}

// readNoted reads a record and notes it; nil when there is none.
func readNoted[R any, M message[R]](t *Tx, key string) (data []byte, record M, err error) {
	if data, err = t.tx.Get(key); err != nil {
		return nil, nil, err
	}
	if data == nil {
		t.tx.note(key, nil)
		return nil, nil, nil
	}
	record = new(R)
	if err := decode(key, data, record); err != nil {
		return nil, record, err
	}
	t.tx.note(key, record)
	return data, record, nil
}

// distrusted holds a shared record against its bytes, in tests.
func distrusted[R any, M message[R]](t *Tx, key string, record M) error {
	if !t.kept.distrustful {
		return nil
	}
	data, err := t.tx.Get(key)
	if err != nil {
		return err
	}
	as := M(new(R))
	if (data == nil) != (record == nil) || data != nil && (decode(key, data, as) != nil || !proto.Equal(as, record)) {
		t.kept.distrustWith(t.Club + "/" + key)
	}
	return nil
}

// PeekClub is ClubRecord, shared: it must not be changed. So are all that follow.
func (t *Tx) PeekClub() (*pb.Club, error) {
	return peek[pb.Club](t, "club", func() string { return names.Club(t.Club) })
}

// PeekMember is Member, shared.
func (t *Tx) PeekMember(id string) (*pb.Member, error) {
	return peek[pb.Member](t, "member/"+id, func() string { return names.Member(t.Club, id) })
}

// PeekDevice is Device, shared.
func (t *Tx) PeekDevice(member, id string) (*pb.DeviceRecord, error) {
	return peek[pb.DeviceRecord](t, "device/"+member+"/"+id, func() string { return names.Device(t.Club, member, id) })
}

// PeekRide is Ride, shared.
func (t *Tx) PeekRide(id string) (*pb.Ride, error) {
	return peek[pb.Ride](t, "ride/"+id, func() string { return names.Ride(t.Club, id) })
}

// PeekBike is Bike, shared.
func (t *Tx) PeekBike(member, id string) (*pb.Bike, error) {
	return peek[pb.Bike](t, "bike/"+member+"/"+id, func() string { return names.Bike(t.Club, member, id) })
}

// PeekSignup is FindSignup, shared.
func (t *Tx) PeekSignup(ride, member string) (*pb.Signup, error) {
	return peekOnce[pb.Signup](t, signupKey(ride, member))
}

// PeekSignups is Signups, shared.
func (t *Tx) PeekSignups(ride string, visit func(*pb.Signup) error) error {
	return visited(t.tx.Scan("signup/"+ride+"/", "", func(key string, value []byte) (bool, error) {
		at := lain{t.Club, key}
		found := t.kept.find(at)
		record, _ := found.record.(*pb.Signup)
		if record == nil || !bytes.Equal(found.data, value) {
			record = &pb.Signup{}
			if err := decode(key, value, record); err != nil {
				return false, err
			}
			t.kept.put(at, bytes.Clone(value), record)
		}
		if err := distrusted(t, key, record); err != nil {
			return false, err
		}
		err := visit(record)
		return err == nil, err
	}))
}

// PeekRoster is Roster, shared.
func (t *Tx) PeekRoster(ride string, number int32) (*pb.Roster, error) {
	return peek[pb.Roster](t, rosterKey(ride, number), func() string { return names.Roster(t.Club, ride, number) })
}

// PeekPolicyOn is PolicyOn, shared.
func (t *Tx) PeekPolicyOn(day string) (*pb.PolicyRevision, error) {
	number, err := t.policyNumberOn(day)
	if err != nil {
		return nil, err
	}
	return peek[pb.PolicyRevision](t, policyKey(number), func() string { return names.Policy(t.Club, number) })
}
