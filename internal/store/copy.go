package store

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"hash"
)

// What is copied in one transaction, about: little enough for one request of any engine.
const (
	copyKeys  = 100
	copyBytes = 512 << 10
)

// Copy copies every key of every club into an empty store that nobody else writes to, and gives how many there were. The clubs
// are read one after another, each as it is at one moment. Told hears how many keys are copied so far; it may be nil. What was copied
// stays where it fails.
func Copy(ctx context.Context, from, to Store, told func(keys int)) (keys int, err error) {
	if there, err := to.Clubs(ctx); err != nil || len(there) > 0 {
		if err == nil {
			err = fmt.Errorf("store: it is not empty, and nothing was copied into it: it has the clubs %v", there)
		}
		return 0, err
	}
	clubs, err := from.Clubs(ctx)
	for _, club := range clubs {
		if err != nil {
			break
		}
		c := &copying{ctx: ctx, to: to, club: club}
		err = from.View(ctx, club, func(tx Tx) error {
			if err := tx.Scan("", "", c.add); err != nil {
				return err
			}
			return c.write()
		})
		if keys += c.keys; told != nil {
			told(keys)
		}
	}
	return keys, err
}

type copying struct {
	ctx   context.Context
	to    Store
	club  string
	queue []pair
	bytes int
	keys  int
}

type pair struct {
	key   string
	value []byte
}

func (c *copying) add(key string, value []byte) (bool, error) {
	c.queue = append(c.queue, pair{key, append([]byte{}, value...)})
	c.bytes += len(key) + len(value)
	if len(c.queue) < copyKeys && c.bytes < copyBytes {
		return true, nil
	}
	return true, c.write()
}

func (c *copying) write() error {
	if len(c.queue) == 0 {
		return nil
	}
	err := c.to.Update(c.ctx, c.club, func(tx Tx) error {
		for _, one := range c.queue {
			if err := tx.Put(one.key, one.value); err != nil {
				return err
			}
		}
		return nil
	})
	c.keys += len(c.queue)
	c.queue, c.bytes = nil, 0
	return err
}

// Digest is the SHA-256 over every key and value of every club, in their order, and how many keys there are: the same for two stores
// with the same in them, whatever engine keeps it.
func Digest(ctx context.Context, s Store) (digest string, keys int, err error) {
	clubs, err := s.Clubs(ctx)
	if err != nil {
		return "", 0, err
	}
	sum := sha256.New()
	for _, club := range clubs {
		add(sum, []byte{'c'}, []byte(club))
		if err := s.View(ctx, club, func(tx Tx) error {
			return tx.Scan("", "", func(key string, value []byte) (bool, error) {
				keys++
				add(sum, []byte{'k'}, []byte(key), value)
				return true, nil
			})
		}); err != nil {
			return "", 0, err
		}
	}
	return hex.EncodeToString(sum.Sum(nil)), keys, nil
}

// add adds parts with their lengths, so that no two rows of parts give the same bytes.
func add(sum hash.Hash, parts ...[]byte) {
	for _, part := range parts {
		_, _ = sum.Write(binary.AppendUvarint(nil, uint64(len(part))))
		_, _ = sum.Write(part)
	}
}
