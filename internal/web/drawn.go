package web

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"sync"

	"google.golang.org/protobuf/proto"
)

// What is drawn for one visitor is drawn for the next as well, as long as it is drawn from the same. It is kept by the digest of all
// that goes into it, never by whom it is shown to: who looks has been answered what it is drawn from.

// mostKept is how many bytes of what was drawn are kept at most.
const mostKept = 8 << 20

// drawings are what was drawn, by digest. When there is too much of it, all is let go but the newest half.
type drawings struct {
	mu          sync.Mutex
	fresh, aged map[[sha256.Size]byte]any
	bytes       int
}

// drawn gives what draw makes of what it is drawn from: words and messages, all that it depends on, the kind of drawing first. It is shared,
// and must not be changed. weight is about how many bytes it takes.
func drawn[T any](d *drawings, draw func() (T, error), weight func(T) int, from ...any) (T, error) {
	key, err := drawnFrom(from)
	if err != nil {
		var none T
		return none, err
	}
	if found, ok := d.find(key); ok {
		return found.(T), nil
	}
	made, err := draw()
	if err == nil {
		d.put(key, made, weight(made))
	}
	return made, err
}

func (d *drawings) find(key [sha256.Size]byte) (any, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	found, ok := d.fresh[key]
	if !ok {
		found, ok = d.aged[key]
	}
	return found, ok
}

func (d *drawings) put(key [sha256.Size]byte, made any, weight int) {
	const around = 200 // bytes of the map and the key
	weight += around
	if weight > mostKept/2 {
		return
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.fresh == nil || d.bytes+weight > mostKept/2 {
		d.fresh, d.aged, d.bytes = map[[sha256.Size]byte]any{}, d.fresh, 0
	}
	d.fresh[key] = made
	d.bytes += weight
}

// scratch is what drawnFrom writes in, used again.
var scratch = sync.Pool{New: func() any { return new([]byte) }}

// drawnFrom tells apart what things are drawn from: each is its length and its bytes, after the name of its type where it is a message.
func drawnFrom(from []any) (digest [sha256.Size]byte, err error) {
	kept := scratch.Get().(*[]byte) //nolint:errcheck,forcetypeassert // of what New makes
	all := (*kept)[:0]
	defer func() {
		if cap(all) <= usualDocument {
			*kept = all
			scratch.Put(kept)
		}
	}()
	for _, one := range from {
		var begins int
		all, begins = append(all, make([]byte, 8)...), len(all)
		switch one := one.(type) {
		case string:
			all = append(all, one...)
		case proto.Message:
			all = append(append(all, one.ProtoReflect().Descriptor().FullName()...), ':')
			if all, err = (proto.MarshalOptions{Deterministic: true}).MarshalAppend(all, one); err != nil {
				return digest, err
			}
		default:
			return digest, fmt.Errorf("nothing can be kept by a %T", one)
		}
		binary.BigEndian.PutUint64(all[begins:], uint64(len(all)-begins-8))
	}
	return sha256.Sum256(all), nil
}
