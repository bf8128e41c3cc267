package ledger_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"gritward/internal/ledger"
	pb "gritward/proto/gritward/v1"
)

func TestPolicyOn(t *testing.T) {
	b := open(t)
	// In the order of adopting: a later one may count from an earlier day.
	from := []string{"2026-10-01", "2026-12-01", "2026-12-01", "2027-01-01", "2026-11-01"}
	for i, day := range from {
		b.write(func(tx *ledger.Tx) error {
			revision := &pb.PolicyRevision{EffectiveFrom: day, Number: 99, Name: "mine"}
			err := tx.AddPolicy(revision)
			if int(revision.Number) != i+1 || revision.Name == "mine" {
				t.Errorf("the revision became %d, %s", revision.Number, revision.Name)
			}
			return err
		})
	}
	for day, want := range map[string]int32{
		"2026-10-01": 1, "2026-10-31": 1, "2026-11-01": 5, "2026-11-30": 5,
		"2026-12-01": 3, // of two from one day the newest
		"2026-12-31": 3, "2027-01-01": 4, "2027-06-01": 4, "9999-12-31": 4,
	} {
		b.read(func(tx *ledger.Tx) error {
			got, err := tx.PolicyOn(day)
			if err != nil || got.Number != want {
				t.Errorf("on %s: revision %v, %v; want %d", day, got.GetNumber(), err, want)
			}
			return nil
		})
	}
	var numbers []int32
	b.read(func(tx *ledger.Tx) error {
		return tx.Policies(func(r *pb.PolicyRevision) error { numbers = append(numbers, r.Number); return nil })
	})
	if diff := cmp.Diff([]int32{5, 4, 3, 2, 1}, numbers); diff != "" {
		t.Error(diff)
	}
	err := b.ledger.View(t.Context(), club, func(tx *ledger.Tx) error {
		got, err := tx.PolicyOn("2026-09-30")
		if got != nil {
			t.Errorf("got %v", got)
		}
		return err
	})
	wantFault(t, err, pb.Reason_NO_POLICY,
		"the club has no policy in force on 2026-09-30; a secretary adopts one with: gritward policy adopt FILE")
}

// BenchmarkPolicyOn finds the policy among 20 revisions of 20 kB each.
func BenchmarkPolicyOn(b *testing.B) {
	book := open(b)
	book.write(func(tx *ledger.Tx) error {
		for range 20 {
			if err := tx.AddPolicy(&pb.PolicyRevision{EffectiveFrom: "2026-10-01", Text: string(make([]byte, 20<<10))}); err != nil {
				return err
			}
		}
		return nil
	})
	for b.Loop() {
		book.read(func(tx *ledger.Tx) error {
			_, err := tx.PolicyOn("2026-12-01")
			return err
		})
	}
}
