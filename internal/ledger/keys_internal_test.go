package ledger

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"
)

// TestNumbered: a key with a number is written as fmt writes it.
func TestNumbered(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number, digits := rapid.Int64Range(-1<<62, 1<<62).Draw(t, "number"), rapid.IntRange(1, 24).Draw(t, "digits")
		if rapid.Bool().Draw(t, "small") {
			number %= 1000
		}
		if got, want := numbered("a/", number, digits), fmt.Sprintf("a/%0*d", digits, number); got != want {
			t.Fatalf("%q, want %q", got, want)
		}
	})
}
