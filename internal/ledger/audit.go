package ledger

import (
	"crypto/sha256"
	"fmt"

	pb "gritward/proto/gritward/v1"
)

// Append adds an entry to the club's audit log: it gets the next number, the time of the transaction, and the digest
// of the entry before.
func (t *Tx) Append(entry *pb.AuditEntry) error {
	entry.Number, entry.At, entry.PreviousSha256 = 1, t.Stamp(), nil
	err := t.tx.ScanDown("audit/", "", func(key string, value []byte) (bool, error) {
		last := &pb.AuditEntry{}
		if err := decode(key, value, last); err != nil {
			return false, err
		}
		sum := sha256.Sum256(value) // of the bytes as they lie there, whichever version of the program wrote them
		entry.Number, entry.PreviousSha256 = last.Number+1, sum[:]
		return false, nil
	})
	if err != nil {
		return err
	}
	return t.save(fmt.Sprintf("audit/%016d", entry.Number), entry)
}

// Audit visits the entries of the audit log, oldest first.
func (t *Tx) Audit(visit func(*pb.AuditEntry) error) error {
	return each(t, "audit/", "", func() *pb.AuditEntry { return &pb.AuditEntry{} }, visit)
}
