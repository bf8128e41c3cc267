package transport

import (
	"errors"
	"fmt"
	"net"
	"strconv"
	"strings"
)

// Invite is all that a device needs to be let in, in one word: "ADDRESS/CODE/PIN,PIN". The pins are those of a server that
// has an authority of its own; without them it is "ADDRESS/CODE". A code alone is an invite too, to the server that the
// device's settings name.
type Invite struct {
	// Address is the server's, host:port; "": that of the device's settings.
	Address string
	// Code is what lets a device in, once.
	Code string
	// Pins are those of the server's own authority: now, and next if that is prepared already.
	Pins []Pin
}

// maxInvite is the longest word, in bytes: a name of 253, and far more for the rest than it needs.
const maxInvite = 600

// String is the word to hand over.
func (i Invite) String() string {
	switch {
	case i.Address == "":
		return i.Code
	case len(i.Pins) == 0:
		return i.Address + "/" + i.Code
	}
	return i.Address + "/" + i.Code + "/" + strings.Join(PinWords(i.Pins), ",")
}

// ParseInvite reads the word that was handed over. White space is left out, also within: mail programs break long lines.
func ParseInvite(text string) (Invite, error) {
	if len(text) > maxInvite {
		return Invite{}, fmt.Errorf("is longer than any invite (%d bytes): paste the invite alone", maxInvite)
	}
	text = strings.Join(strings.Fields(text), "")
	if strings.ContainsFunc(text, func(r rune) bool { return r <= ' ' || r > '~' }) {
		return Invite{}, errors.New("holds characters that no invite has: paste the invite alone")
	}
	parts := strings.Split(text, "/")
	switch {
	case text == "":
		return Invite{}, errors.New("is empty")
	case len(parts) == 1:
		return Invite{Code: text}, nil
	case len(parts) > 3:
		return Invite{}, errors.New("has more parts than ADDRESS/CODE/PIN: paste it as it was handed over")
	case !isAddress(parts[0]):
		return Invite{}, errors.New("does not begin with the address of a server: paste the whole of it")
	case parts[1] == "":
		return Invite{}, errors.New("has no code: paste the whole of it")
	case len(parts) == 2:
		return Invite{Address: parts[0], Code: parts[1]}, nil
	}
	pins, err := ParsePins(parts[2])
	if err != nil {
		return Invite{}, fmt.Errorf("ends with what is no pin (%w): paste the whole of it, or ask for a new one", err)
	}
	return Invite{parts[0], parts[1], pins}, nil
}

// ForShell is a word as it is pasted on a command line: a shell may take the brackets of an IPv6 address for a pattern,
// and parts the name of a file at its spaces.
func ForShell(word string) string {
	if strings.ContainsAny(word, "[] \t'\"\\$&;()<>|*?`!#~") {
		return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
	}
	return word
}

// isAddress tells whether a word is host:port, with a port from 1.
func isAddress(word string) bool {
	host, port, err := net.SplitHostPort(word)
	number, portErr := strconv.ParseUint(port, 10, 16)
	return err == nil && host != "" && portErr == nil && number > 0
}
