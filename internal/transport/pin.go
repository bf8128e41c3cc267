package transport

import (
	"crypto/sha256"
	"crypto/x509"
	"encoding/base64"
	"errors"
	"strings"
)

// Pin is the SHA-256 of a certificate's SubjectPublicKeyInfo (RFC 7469, section 2.4). It names a key, not a certificate:
// one made anew for the same key has the same pin.
type Pin [sha256.Size]byte

// pinLength is the length of a pin as text: 32 bytes as base64url without padding.
const pinLength = 43

// maxPins is how many pins stand in one text: that of the authority in use, and that of the next.
const maxPins = 2

// PinOf is the pin of a certificate's key.
func PinOf(cert *x509.Certificate) Pin { return sha256.Sum256(cert.RawSubjectPublicKeyInfo) }

// String is the pin as base64url without padding (RFC 4648, section 5; RFC 7469 has base64, whose slash would part an
// invite).
func (p Pin) String() string { return base64.RawURLEncoding.EncodeToString(p[:]) }

var errPin = errors.New("a pin has 43 letters, digits, - and _: it was cut short or changed on the way")

// ParsePins reads one or two pins with a comma between them. Two that are the same are an error too.
func ParsePins(text string) ([]Pin, error) {
	words := strings.Split(text, ",")
	if len(words) > maxPins {
		return nil, errors.New("there are more than two pins")
	}
	var pins []Pin
	for _, word := range words {
		sum, err := base64.RawURLEncoding.Strict().DecodeString(word)
		if err != nil || len(word) != pinLength || len(sum) != sha256.Size {
			return nil, errPin
		}
		pin := Pin(sum)
		if len(pins) > 0 && pins[0] == pin {
			return nil, errors.New("the same pin stands there twice")
		}
		pins = append(pins, pin)
	}
	return pins, nil
}

// PinWords are pins as text, one by one.
func PinWords(pins []Pin) []string {
	words := make([]string, len(pins))
	for i, pin := range pins {
		words[i] = pin.String()
	}
	return words
}
