package seal

import (
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
)

// MaxText is the length of the longest text of keys, in bytes.
const MaxText = 16 << 10

// maxKeys is how many keys one set may have: more than a change of key that is broken off ever leaves.
const maxKeys = 8

const heading = `# gritward: what the emergency contacts in the store are sealed with.
# Whoever has this file and the store can read them: never keep it together with backups of the store.
# Without this file nobody can read them: keep a copy of it elsewhere.
# The first key seals. Others are there only while a change of key is under way.
`

// Text is the set as it is kept in a file, for Parse.
func (k *Keys) Text() []byte {
	var b strings.Builder
	b.WriteString(heading)
	for _, one := range k.list {
		fmt.Fprintf(&b, "key %s %x\n", one.id, one.secret)
	}
	return []byte(b.String())
}

// Parse reads what Text writes: lines "key ID SECRET", the id and the secret hexadecimal, and lines that begin with #. The
// error names the line, and never repeats what stands there.
func Parse(text []byte) (*Keys, error) {
	if len(text) > MaxText {
		return nil, fmt.Errorf("it has more than %d bytes, and is no key file", MaxText)
	}
	keys := &Keys{}
	for i, line := range strings.Split(string(text), "\n") {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		one, err := parseLine(line)
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", i+1, err)
		}
		for _, other := range keys.list {
			if other.id == one.id {
				return nil, fmt.Errorf("line %d: the same key stands there twice", i+1)
			}
		}
		if keys.list = append(keys.list, one); len(keys.list) > maxKeys {
			return nil, fmt.Errorf("line %d: there are more than %d keys", i+1, maxKeys)
		}
	}
	if len(keys.list) == 0 {
		return nil, errors.New("there is no key in it")
	}
	return keys, nil
}

func parseLine(line string) (key, error) {
	words := strings.Fields(line)
	if len(words) != 3 || words[0] != "key" {
		return key{}, errors.New("it is not of the form: key ID SECRET")
	}
	secret, err := hex.DecodeString(words[2])
	if err != nil {
		return key{}, errors.New("the secret is not hexadecimal")
	}
	if len(secret) != keyBytes {
		return key{}, fmt.Errorf("the secret has %d bytes; a key has %d", len(secret), keyBytes)
	}
	one, err := keyOf([keyBytes]byte(secret))
	if err == nil && one.id != words[1] {
		err = errors.New("the secret is not the one of that id: one of the two was changed")
	}
	return one, err
}
