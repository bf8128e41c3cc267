// Package seal closes records so that only the holder of a key can read them, and nobody can change them or put one in
// another's place unseen: AES-256 in Galois/Counter Mode (NIST SP 800-38D) with a random nonce for each record. It knows
// neither files nor the store.
package seal

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
)

// keyBytes is the length of a key: that of AES-256.
const keyBytes = 32

var (
	// ErrNoKey is in the error about a record that is sealed with a key that is not there.
	ErrNoKey = errors.New("the key that it is sealed with is not there")
	// ErrBroken is in the error about a record that was changed, cut short, or put in another's place.
	ErrBroken = errors.New("it was changed, cut short, or is another record's")
)

// key is one key with its id.
type key struct {
	id     string
	secret [keyBytes]byte
	aead   cipher.AEAD
}

// Keys are a set of keys: the first seals, each opens what it sealed. They do not change, and may be used by many at
// once. They are never printed.
type Keys struct{ list []key }

// New makes a set of one new key.
func New() (*Keys, error) {
	fresh, err := newKey()
	if err != nil {
		return nil, err
	}
	return &Keys{[]key{fresh}}, nil
}

func newKey() (key, error) {
	var secret [keyBytes]byte
	rand.Read(secret[:]) // never an error, as its documentation has it
	return keyOf(secret)
}

func keyOf(secret [keyBytes]byte) (key, error) {
	block, err := aes.NewCipher(secret[:])
	if err != nil {
		return key{}, err
	}
	aead, err := cipher.NewGCMWithRandomNonce(block)
	return key{id: idOf(secret), secret: secret, aead: aead}, err
}

// idOf names a key without telling it.
func idOf(secret [keyBytes]byte) string {
	sum := sha256.Sum256(append([]byte("gritward key id\x00"), secret[:]...))
	return hex.EncodeToString(sum[:8])
}

// ID names the key that seals.
func (k *Keys) ID() string { return k.list[0].id }

// IDs names all keys, the one that seals first.
func (k *Keys) IDs() []string {
	ids := make([]string, len(k.list))
	for i, one := range k.list {
		ids[i] = one.id
	}
	return ids
}

// Turned is the set with a new key before the others.
func (k *Keys) Turned() (*Keys, error) {
	fresh, err := newKey()
	if err != nil {
		return nil, err
	}
	return &Keys{append([]key{fresh}, k.list...)}, nil
}

// Newest is the set without the keys that only open.
func (k *Keys) Newest() *Keys { return &Keys{k.list[:1:1]} }

// Seal closes the bytes of the record of that name, and tells with which key.
func (k *Keys) Seal(name string, plain []byte) (id string, sealed []byte, err error) {
	if k == nil {
		return "", nil, errors.New("seal: there are no keys to seal with")
	}
	return k.ID(), k.list[0].aead.Seal(nil, nil, plain, bound(name)), nil
}

// Open gives the bytes of the record of that name, sealed with the key of that id. The error has ErrNoKey or ErrBroken
// in it.
func (k *Keys) Open(name, id string, sealed []byte) ([]byte, error) {
	if k != nil {
		for _, one := range k.list {
			if one.id != id {
				continue
			}
			plain, err := one.aead.Open(nil, nil, sealed, bound(name))
			if err != nil {
				return nil, fmt.Errorf("seal: %s cannot be opened: %w", name, ErrBroken)
			}
			return plain, nil
		}
	}
	return nil, fmt.Errorf("seal: %s cannot be opened: %w (key %.40q)", name, ErrNoKey, id)
}

// bound is what a record is tied to beside its bytes.
func bound(name string) []byte { return []byte("gritward sealed record 1\x00" + name) }

// Format keeps keys out of every print and log.
func (k *Keys) Format(f fmt.State, _ rune) { _, _ = io.WriteString(f, "(keys)") }
