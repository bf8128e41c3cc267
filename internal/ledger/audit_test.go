package ledger_test

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"slices"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	"gritward/internal/ledger"
	pb "gritward/proto/gritward/v1"
)

// Numbers have no gaps, and each entry has the SHA-256 of the bytes of the one before.
func TestAuditChain(t *testing.T) {
	b := open(t)
	const entries = 12
	for i := range entries / 2 {
		b.now = b.now.Add(time.Minute)
		b.write(func(tx *ledger.Tx) error { // two in one transaction
			for _, what := range []string{"first", "second"} {
				entry := &pb.AuditEntry{Number: 77, PreviousSha256: []byte("mine"), Actor: "server", What: fmt.Sprint(what, i)}
				if err := tx.Append(entry); err != nil {
					return err
				}
			}
			return nil
		})
	}
	b.refused(func(tx *ledger.Tx) error { // what fails leaves no gap
		if err := tx.Append(&pb.AuditEntry{What: "never"}); err != nil {
			t.Error(err)
		}
		return fmt.Errorf("no")
	})
	b.write(func(tx *ledger.Tx) error { return tx.Append(&pb.AuditEntry{What: "last"}) })
	_, stored := b.keys("audit/")
	var seen []*pb.AuditEntry
	b.read(func(tx *ledger.Tx) error { return tx.AuditDown(0, 0, collect(&seen)) })
	slices.Reverse(seen)
	if len(seen) != entries+1 || len(stored) != entries+1 {
		t.Fatalf("%d entries, %d stored", len(seen), len(stored))
	}
	for i, entry := range seen {
		if entry.Number != int64(i+1) {
			t.Errorf("entry %d has number %d", i, entry.Number)
		}
		if i == 0 {
			if len(entry.PreviousSha256) != 0 {
				t.Errorf("the first has a digest: %x", entry.PreviousSha256)
			}
			continue
		}
		want := sha256.Sum256(stored[i-1])
		if !bytes.Equal(entry.PreviousSha256, want[:]) {
			t.Errorf("entry %d does not have the digest of the bytes before it", entry.Number)
		}
		// Who has only the messages can check the chain too.
		data, err := proto.MarshalOptions{Deterministic: true}.Marshal(seen[i-1])
		if again := sha256.Sum256(data); err != nil || again != want {
			t.Errorf("entry %d: the digest cannot be had of the message: %v", entry.Number, err)
		}
	}
	if seen[0].What != "first0" || seen[entries].What != "last" || !seen[3].At.AsTime().Equal(time.Date(2026, 12, 1, 8, 2, 0, 0, time.UTC)) {
		t.Errorf("got %v", seen)
	}
}

// The order goes by number beyond every length of it.
func TestAuditNumbersSort(t *testing.T) {
	b := open(t)
	data, err := proto.Marshal(&pb.AuditEntry{Number: 999_999})
	if err != nil {
		t.Fatal(err)
	}
	b.raw("audit/0000000000999999", data)
	entry := &pb.AuditEntry{}
	b.write(func(tx *ledger.Tx) error { return tx.Append(entry) })
	b.write(func(tx *ledger.Tx) error { return tx.Append(entry) })
	want := []string{"audit/0000000000999999", "audit/0000000001000000", "audit/0000000001000001"}
	if keys, _ := b.keys("audit/"); entry.Number != 1_000_001 || !slices.Equal(keys, want) {
		t.Errorf("got %d, %v", entry.Number, keys)
	}
}
