package etcd

import (
	"errors"
	"strings"
)

var errMissing = errors.New("parts of it are missing")

// part keeps a part of a blob, or lets it go; mu is held.
func (m *mirror) part(key string, data []byte, gone bool) {
	token, ok := partOf(key)
	switch {
	case !ok:
	case gone:
		delete(m.parts[token], key)
		if len(m.parts[token]) == 0 {
			delete(m.parts, token)
		}
	default:
		if m.parts[token] == nil {
			m.parts[token] = map[string][]byte{}
		}
		m.parts[token][key] = data
	}
}

// joined puts a blob together, and forgets its parts; mu is held.
func (m *mirror) joined(b blob) (data []byte, there bool) {
	parts := m.parts[b.token]
	if len(parts) != b.parts {
		return nil, false
	}
	for i := range b.parts {
		data = append(data, parts[strings.TrimPrefix(m.names.part(b.token, i), m.names.parts)]...)
	}
	m.forget(b.token)
	return data, true
}

func (m *mirror) forget(token string) { delete(m.parts, token) }

// split cuts data into parts of a size; there is one at least.
func split(data []byte, most int) (parts [][]byte) {
	for len(data) > most {
		parts, data = append(parts, data[:most]), data[most:]
	}
	return append(parts, data)
}
