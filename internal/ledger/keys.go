package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strconv"

	"gritward/internal/names"
)

// ids takes apart the name of a record that is to be saved. A name that is not one of this club would put the record
// under a key where nobody finds it, or over another record.
func (t *Tx) ids(name, shape string) ([]string, error) {
	ids, err := names.In(t.Club, "name", name, shape)
	if err != nil || slices.Contains(ids, names.Any) {
		return nil, fmt.Errorf("ledger: %.200q cannot be saved: it is not of the form %s in club %s", name, shape, t.Club)
	}
	return ids, nil
}

// numbered is a key that ends with a number, with so many digits that keys are in the order of their numbers.
func numbered(prefix string, number int64, digits int) string {
	var room [96]byte // most keys are shorter
	key := append(room[:0], prefix...)
	if number < 0 {
		key, number, digits = append(key, '-'), -number, digits-1
	}
	for rest := number / 10; digits > 1; digits-- {
		if rest == 0 {
			key = append(key, '0')
		}
		rest /= 10
	}
	return string(strconv.AppendInt(key, number, 10))
}

// numberOf is the number with which a key ends.
func numberOf(key string) (int64, error) {
	number, err := strconv.ParseInt(names.Last(key), 10, 64)
	if err != nil {
		return 0, damagedRecord(key, err)
	}
	return number, nil
}

// hashKey is the key of what is found by the SHA-256 of a secret.
func hashKey(prefix string, sum []byte) (string, error) {
	if len(sum) != sha256.Size {
		return "", fmt.Errorf("ledger: a secret's hash has %d bytes; SHA-256 has %d", len(sum), sha256.Size)
	}
	return prefix + hex.EncodeToString(sum), nil
}
