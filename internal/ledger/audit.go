package ledger

import (
	"crypto/sha256"

	pb "gritward/proto/gritward/v1"
)

// Append adds an entry to the club's audit log: it gets the next number, the time of the transaction, and the digest
// of the entry before. What its method changes about a ride is told to those who watch the ride.
func (t *Tx) Append(entry *pb.AuditEntry) error {
	head, err := t.AuditHead()
	if err != nil {
		return err
	}
	entry.Number, entry.At, entry.PreviousSha256 = head.Number+1, t.Stamp(), nil
	if head.Number > 0 {
		entry.PreviousSha256 = head.Sha256[:]
	}
	if err := t.TellRide(entry); err != nil {
		return err
	}
	return t.save(auditKey(entry.Number), entry)
}

// AuditDown visits the entries of the audit log, newest first, from the one before the number given, 0: from the last;
// at most limit, 0: all.
func (t *Tx) AuditDown(before int64, limit int, visit func(*pb.AuditEntry) error) error {
	key := ""
	if before > 0 {
		key = auditKey(before)
	}
	return eachDown(t, "audit/", key, func() *pb.AuditEntry { return &pb.AuditEntry{} }, limited(limit, visit))
}

// AuditHead is where the audit log ends; its number is 0 when the log is empty.
func (t *Tx) AuditHead() (AuditHead, error) {
	head := AuditHead{Club: t.Club}
	err := t.tx.ScanDown("audit/", "", func(key string, value []byte) (_ bool, err error) {
		if err := wellFormed(key, value); err != nil {
			return false, err
		}
		head.Number, err = numberOf(key)
		head.Sha256 = sha256.Sum256(value) // of the bytes as they lie there, whichever version of the program wrote them
		return false, err
	})
	return head, err
}

func auditKey(number int64) string { return numbered("audit/", number, 16) }
