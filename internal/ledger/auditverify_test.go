package ledger_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	"gritward/internal/ledger"
	"gritward/internal/store"
	pb "gritward/proto/gritward/v1"
)

// logged is a store file with a log of ten entries, and the heads after the seventh and the last.
func logged(t *testing.T) (b *book, noted []ledger.AuditHead) {
	t.Helper()
	b = open(t)
	for i := range 10 {
		b.write(func(tx *ledger.Tx) error {
			err := tx.Append(&pb.AuditEntry{Actor: "clubs/moor/members/ida", What: fmt.Sprint("deed ", i+1)})
			if head, headErr := tx.AuditHead(); headErr == nil && (head.Number == 7 || head.Number == 10) {
				noted = append(noted, head)
			}
			return err
		})
	}
	return b, noted
}

// verify follows the log; broken is 0 when it is unbroken.
func (b *book) verify(noted ...ledger.AuditHead) (head ledger.AuditHead, broken int64, what string) {
	b.Helper()
	err := b.ledger.View(b.Context(), club, func(tx *ledger.Tx) (err error) {
		head, err = tx.VerifyAudit(noted)
		return err
	})
	var found *ledger.AuditBroken
	if errors.As(err, &found) {
		return head, found.Number, found.What
	}
	if err != nil {
		b.Fatal(err)
	}
	return head, 0, ""
}

// tamper changes the store past the ledger.
func (b *book) tamper(change func(tx store.Tx) error) {
	b.Helper()
	if err := b.store.Update(b.Context(), club, change); err != nil {
		b.Fatal(err)
	}
}

func auditAt(number int) string { return fmt.Sprintf("audit/%016d", number) }

// rewritten changes the words of an entry and leaves the rest as it was.
func rewritten(tx store.Tx, number int) error {
	data, err := tx.Get(auditAt(number))
	if err != nil {
		return err
	}
	entry := &pb.AuditEntry{}
	if err = proto.Unmarshal(data, entry); err != nil {
		return err
	}
	entry.What = "another deed"
	data, err = proto.MarshalOptions{Deterministic: true}.Marshal(entry)
	return errors.Join(err, tx.Put(auditAt(number), data))
}

func swapped(tx store.Tx, a, b int) error {
	first, err := tx.Get(auditAt(a))
	if err != nil {
		return err
	}
	second, err := tx.Get(auditAt(b))
	return errors.Join(err, tx.Put(auditAt(a), second), tx.Put(auditAt(b), first))
}

// TestTamper does to a real store file what somebody could who can write to it. What the chain alone does not show
// (alone 0) the noted head does.
func TestTamper(t *testing.T) {
	tests := []struct {
		name   string
		change func(tx store.Tx) error
		// alone and noted are the first broken entry, without a noted head and with one.
		alone, noted int64
		says         string
	}{
		{"nothing", func(store.Tx) error { return nil }, 0, 0, ""},
		{"removed in the middle", func(tx store.Tx) error { return tx.Delete(auditAt(5)) }, 5, 5, "is missing: the next one there is entry 6"},
		{"removed at the beginning", func(tx store.Tx) error { return tx.Delete(auditAt(1)) }, 1, 1, "is missing"},
		{"two removed", func(tx store.Tx) error { return errors.Join(tx.Delete(auditAt(4)), tx.Delete(auditAt(5))) }, 4, 4, "next one there is entry 6"},
		{"changed", func(tx store.Tx) error { return rewritten(tx, 5) }, 5, 5, "is not the one that entry 6 was written after"},
		{"the first changed", func(tx store.Tx) error { return rewritten(tx, 1) }, 1, 1, "entry 2 was written after"},
		{"swapped", func(tx store.Tx) error { return swapped(tx, 3, 4) }, 3, 3, "says that it is entry 4"},
		{"no message", func(tx store.Tx) error { return tx.Put(auditAt(5), []byte{0xff, 0xff}) }, 5, 5, "cannot be read"},
		{"emptied", func(tx store.Tx) error { return tx.Put(auditAt(5), nil) }, 5, 5, "says that it is entry 0"},
		{"a record between", func(tx store.Tx) error { return tx.Put("audit/0000000000000005x", []byte("x")) }, 6, 6, "which the server never wrote"},
		{"a record of number 0", func(tx store.Tx) error { return tx.Put(auditAt(0), []byte("x")) }, 1, 1, "which the server never wrote"},
		{"all removed", func(tx store.Tx) error {
			for i := range 10 {
				if err := tx.Delete(auditAt(i + 1)); err != nil {
					return err
				}
			}
			return nil
		}, 1, 1, "the log is empty"},
		{"the end cut off", func(tx store.Tx) error { return errors.Join(tx.Delete(auditAt(9)), tx.Delete(auditAt(10))) }, 0, 9, "was noted to reach entry 10"},
		{"the last changed", func(tx store.Tx) error { return rewritten(tx, 10) }, 0, 10, "is not the one that was noted"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			b, noted := logged(t)
			b.tamper(test.change)
			if _, broken, what := b.verify(); broken != test.alone || test.alone > 0 && !strings.Contains(what, test.says) {
				t.Errorf("alone: entry %d %s; want %d %s", broken, what, test.alone, test.says)
			}
			if _, broken, what := b.verify(noted...); broken != test.noted || !strings.Contains(what, test.says) {
				t.Errorf("with the noted head: entry %d %s; want %d %s", broken, what, test.noted, test.says)
			}
		})
	}
}

// TestWrittenAnew writes the whole log anew with one entry changed: only a noted head shows it, even an older one.
func TestWrittenAnew(t *testing.T) {
	b, noted := logged(t)
	var entries []*pb.AuditEntry
	b.read(func(tx *ledger.Tx) error { return tx.AuditDown(0, 0, collect(&entries)) })
	slices.Reverse(entries)
	b.tamper(func(tx store.Tx) error {
		for i := range entries {
			if err := tx.Delete(auditAt(i + 1)); err != nil {
				return err
			}
		}
		return nil
	})
	for i, entry := range entries {
		if i == 2 {
			entry.What = "nothing of note"
		}
		b.write(func(tx *ledger.Tx) error { return tx.Append(entry) })
	}
	if head, broken, what := b.verify(); broken != 0 || head.Number != 10 {
		t.Fatalf("the forged chain does not hold together, so this shows nothing: %d %s", broken, what)
	}
	if _, broken, what := b.verify(noted[0]); broken != 7 || !strings.Contains(what, "it or an entry before it was changed") {
		t.Errorf("with the head noted at 7: entry %d %s", broken, what)
	}
}

// TestNotedHeads: a log that has grown since is held against what was noted before; heads of others are passed over.
func TestNotedHeads(t *testing.T) {
	b, noted := logged(t)
	b.write(func(tx *ledger.Tx) error { return tx.Append(&pb.AuditEntry{What: "one more"}) })
	other := noted[1]
	other.Club = "elsewhere"
	head, broken, what := b.verify(noted[0], noted[1], other)
	if broken != 0 || head.Number != 11 {
		t.Errorf("entry %d %s, head %v", broken, what, head)
	}
	for _, head := range append(noted, head) {
		if got, err := ledger.ParseAuditHead(head.String()); err != nil || got != head {
			t.Errorf("%s reads as %v: %v", head, got, err)
		}
	}
	good := noted[0].String()
	for _, text := range []string{"", "moor", good[:len(good)-1], good + "00", good + "0", "/" + good, strings.Replace(good, "/7:", "/0:", 1),
		strings.Replace(good, "/7:", "/-7:", 1), strings.Replace(good, "moor", "Moor", 1), strings.Replace(good, ":", "", 1), strings.Repeat("a", 1<<20)} {
		if got, err := ledger.ParseAuditHead(text); err == nil {
			t.Errorf("%.80q reads as %v", text, got)
		} else if len(err.Error()) > 400 {
			t.Errorf("a message of %d bytes", len(err.Error()))
		}
	}
}

// FuzzParseAuditHead: what is read prints as it was written, but for the case of its digits.
func FuzzParseAuditHead(f *testing.F) {
	f.Add("moor/7:" + strings.Repeat("0a", 32))
	f.Add("moor/07:" + strings.Repeat("0A", 32))
	f.Fuzz(func(t *testing.T, text string) {
		head, err := ledger.ParseAuditHead(text)
		if err != nil {
			return
		}
		if again, err := ledger.ParseAuditHead(head.String()); err != nil || again != head {
			t.Errorf("%q: %v, %v", text, again, err)
		}
	})
}
