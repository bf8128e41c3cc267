package ledger

import (
	"errors"
	"fmt"
	"sync"

	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

var encoding = proto.MarshalOptions{Deterministic: true}

// load reads one record. The error is a NOT_FOUND about name when it is not there.
func load[T proto.Message](t *Tx, key, name string, into T) (T, error) {
	data, err := t.tx.Get(key)
	if err != nil {
		return into, err
	}
	if data == nil {
		return into, fault.NotFound(name)
	}
	return into, decode(key, data, into)
}

// find is load, but nil when there is no record.
func find[R any, M message[R]](t *Tx, key string) (M, error) {
	data, err := t.tx.Get(key)
	if err != nil || data == nil {
		return nil, err
	}
	record := M(new(R))
	return record, decode(key, data, record)
}

// decode reads the bytes of one record. The error names its key.
func decode(key string, data []byte, into proto.Message) error {
	if err := proto.Unmarshal(data, into); err != nil {
		return damagedRecord(key, err)
	}
	return nil
}

func damagedRecord(key string, err error) error {
	return fmt.Errorf("record %q is damaged: restore the store from a backup (%w)", key, err)
}

// wellFormed refuses bytes that are no message at all, for who needs nothing of what is in it. The error names their key.
func wellFormed(key string, data []byte) error {
	for len(data) > 0 {
		_, _, n := protowire.ConsumeField(data)
		if n < 0 {
			return damagedRecord(key, protowire.ParseError(n))
		}
		data = data[n:]
	}
	return nil
}

// save writes one record.
func (t *Tx) save(key string, record proto.Message) error {
	return encoded(nil, record, func(data []byte) error { return t.tx.Put(key, data) })
}

// rooms are where records are encoded: whoever takes the bytes copies them or makes a digest of them.
var rooms = sync.Pool{New: func() any { return new([]byte) }}

// mostRoom is how large a room is kept, in bytes: most records take a few hundred.
const mostRoom = 16 << 10

// encoded hands over the bytes of a record, with some before them. They are good until take returns.
func encoded(before []byte, record proto.Message, take func([]byte) error) error {
	room := rooms.Get().(*[]byte) //nolint:errcheck,forcetypeassert // of what New makes
	data, err := encoding.MarshalAppend(append((*room)[:0], before...), record)
	if err == nil {
		err = take(data)
	}
	if cap(data) <= mostRoom {
		*room = data
		rooms.Put(room)
	}
	return err
}

// add writes one record of a numbered kind, which nobody may write over. Its name must be as its number has it.
func (t *Tx) add(key string, record proto.Message, name, want string) error {
	if name != want {
		return fmt.Errorf("ledger: %s cannot be saved: by its number it is %s", name, want)
	}
	data, err := t.tx.Get(key)
	if err != nil {
		return err
	}
	if data != nil {
		return fault.New(pb.Reason_ALREADY_EXISTS, "there is a %s already, and it stays as it is", name)
	}
	return t.save(key, record)
}

// errStop ends a scan early.
var errStop = errors.New("stop")

// each reads the records below prefix in the order of their keys, from the one after the key given.
func each[T proto.Message](t *Tx, prefix, after string, fresh func() T, visit func(T) error) error {
	return visited(t.tx.Scan(prefix, after, reader(fresh, visit)))
}

// eachDown is each in descending order.
func eachDown[T proto.Message](t *Tx, prefix, before string, fresh func() T, visit func(T) error) error {
	return visited(t.tx.ScanDown(prefix, before, reader(fresh, visit)))
}

func reader[T proto.Message](fresh func() T, visit func(T) error) func(string, []byte) (bool, error) {
	return func(key string, value []byte) (bool, error) {
		record := fresh()
		if err := decode(key, value, record); err != nil {
			return false, err
		}
		err := visit(record)
		return err == nil, err
	}
}

func visited(err error) error {
	if errors.Is(err, errStop) {
		return nil
	}
	return err
}
