package ledger

import (
	"crypto/sha256"
	"encoding/hex"

	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// tagged is a record with an etag.
type tagged interface {
	proto.Message
	GetEtag() string
}

// tag gives the etag of a record: a digest of it without its old one, so that equal records have equal etags.
func tag[T tagged](record T, set func(T, string)) error {
	set(record, "")
	return encoded(nil, record, func(data []byte) error {
		sum := sha256.Sum256(data)
		set(record, hex.EncodeToString(sum[:8]))
		return nil
	})
}

// Unchanged tells whether the etag that a client read is still that of the record; an empty one always is.
func Unchanged(read string, record tagged, name string) error {
	if read == "" || read == record.GetEtag() {
		return nil
	}
	return fault.New(pb.Reason_CHANGED_MEANWHILE,
		"%s was changed by someone else since it was read; read it again and repeat the change", name)
}

// MadeMeanwhile refuses what was meant for a record that was not there when the client looked, and is now.
func MadeMeanwhile(name string) error {
	return fault.New(pb.Reason_CHANGED_MEANWHILE,
		"%s was made by someone else since it was looked for; read it and repeat the change", name)
}

// Digest is the SHA-256 of data, hexadecimal.
func Digest(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}
