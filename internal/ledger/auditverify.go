package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// AuditHead is the end of a club's audit log: the number of the last entry and the SHA-256 of its bytes. Since each entry
// holds the digest of the one before, a head stands for every entry up to it.
type AuditHead struct {
	Club   string
	Number int64
	Sha256 [sha256.Size]byte
}

// String is the head as a person notes it: CLUB/NUMBER:SHA256.
func (h AuditHead) String() string { return fmt.Sprintf("%s/%d:%x", h.Club, h.Number, h.Sha256) }

// ParseAuditHead reads what String writes.
func ParseAuditHead(text string) (AuditHead, error) {
	club, rest, slashed := strings.Cut(text, "/")
	number, digest, dotted := strings.Cut(rest, ":")
	n, err := strconv.ParseInt(number, 10, 64)
	sum, hexErr := hex.DecodeString(digest)
	head := AuditHead{Club: club, Number: n}
	if !slashed || !dotted || err != nil || n < 1 || hexErr != nil || len(sum) != sha256.Size || !names.ValidClub(club) {
		return head, fmt.Errorf("%.120q is not of the form CLUB/NUMBER:SHA256, as an audit prints it", text)
	}
	copy(head.Sha256[:], sum)
	return head, nil
}

// AuditBroken says which entry of an audit log is the first that is not as it was written.
type AuditBroken struct {
	Club   string
	Number int64
	What   string
}

// Error names the club and the entry.
func (e *AuditBroken) Error() string { return fmt.Sprintf("%s: entry %d %s", e.Club, e.Number, e.What) }

// VerifyAudit follows the audit log from its first entry to its last and gives its end. The error is an *AuditBroken for
// the first entry that is missing, changed, moved or not to be read. It cannot see that the last entry was changed, that
// entries were cut off the end, nor that somebody wrote the whole log anew: for that the log is held against heads noted
// before, outside the store. Those of other clubs are passed over.
func (t *Tx) VerifyAudit(noted []AuditHead) (AuditHead, error) {
	head := AuditHead{Club: t.Club}
	err := t.tx.Scan("audit/", "", func(key string, value []byte) (bool, error) {
		next, err := head.follow(key, value)
		if err != nil {
			return false, err
		}
		head = next
		for _, one := range noted {
			if one.Club == head.Club && one.Number == head.Number && one.Sha256 != head.Sha256 {
				return false, head.broken(head.Number, "is not the one that was noted: it or an entry before it was changed")
			}
		}
		return true, nil
	})
	if err == nil && head.Number == 0 {
		err = head.broken(1, "is missing: the log is empty")
	}
	for _, one := range noted {
		if err == nil && one.Club == head.Club && one.Number > head.Number {
			err = head.broken(head.Number+1, fmt.Sprintf("is missing: the log ends here, and was noted to reach entry %d", one.Number))
		}
	}
	return head, err
}

func (h AuditHead) broken(number int64, what string) error {
	return &AuditBroken{Club: h.Club, Number: number, What: what}
}

// follow holds the record that comes after the head against it, and gives the head with that record.
func (h AuditHead) follow(key string, value []byte) (AuditHead, error) {
	number, err := strconv.ParseInt(strings.TrimPrefix(key, "audit/"), 10, 64)
	if err != nil || number < 1 || key != auditKey(number) {
		return h, h.broken(h.Number+1, fmt.Sprintf("should come, but %.60q lies there, which the server never wrote", key))
	}
	if number != h.Number+1 {
		return h, h.broken(h.Number+1, fmt.Sprintf("is missing: the next one there is entry %d", number))
	}
	entry := &pb.AuditEntry{}
	if err := proto.Unmarshal(value, entry); err != nil {
		return h, h.broken(number, "cannot be read: it was changed or is damaged")
	}
	if entry.Number != number {
		return h, h.broken(number, fmt.Sprintf("says that it is entry %d: entries were moved", entry.Number))
	}
	before := h.Sha256[:]
	if number == 1 {
		before = nil
	}
	if !bytes.Equal(entry.PreviousSha256, before) {
		if number == 1 {
			return h, h.broken(1, "says that another came before it: entries were cut off the beginning")
		}
		return h, h.broken(number-1, fmt.Sprintf("is not the one that entry %d was written after: one of the two was changed", number))
	}
	return AuditHead{Club: h.Club, Number: number, Sha256: sha256.Sum256(value)}, nil
}
