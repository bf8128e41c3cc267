package names_test

import (
	"testing"

	"gritward/internal/names"
)

func TestMemberIDs(t *testing.T) {
	seen := map[string]bool{}
	for range 5000 {
		id := names.NewMemberID()
		if !names.ValidID(id) || !names.IsMemberID(id) || seen[id] {
			t.Fatalf("%q: drawn before: %t", id, seen[id])
		}
		seen[id] = true
	}
	for _, other := range []string{"", "ada-fell", "2bcd3fg", "2bcd3fgh2", "2bcd3fgH", "2bcd1fgh", "2bca3fgh", "2bc-3fgh"} {
		if names.IsMemberID(other) {
			t.Errorf("%q passes for a drawn id", other)
		}
	}
}
