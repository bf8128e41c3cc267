package trail_test

import (
	"bytes"
	"context"
	"encoding/json"
	"log/slog"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gritward/internal/trail"
)

func TestPick(t *testing.T) {
	for _, good := range []string{"a", "7", "a-b_c.D9", strings.Repeat("x", 64), "0b4fd5c4-91a2-4b1e-9b7c-2a6f0f0d7f11"} {
		if got := trail.Pick([]string{good}); got != good {
			t.Errorf("%q became %q", good, got)
		}
	}
	for _, given := range [][]string{nil, {""}, {"a", "b"}, {strings.Repeat("x", 65)}, {"a b"}, {"a\nlevel=ERROR"}, {"\x1b[31m"}, {"ä"}, {"a\xff"}, {`"`}} {
		got := trail.Pick(given)
		if !trail.WellFormed(got) || len(got) < 26 || len(given) == 1 && got == given[0] {
			t.Errorf("%q became %q", given, got)
		}
	}
	if one, other := trail.Pick(nil), trail.Pick(nil); one == other {
		t.Error("two calls have one id")
	}
}

// TestWellFormed: what is taken is what the pattern says, by the regular expressions of the standard library.
func TestWellFormed(t *testing.T) {
	pattern := regexp.MustCompile(`\A[A-Za-z0-9._-]{1,64}\z`)
	rapid.Check(t, func(t *rapid.T) {
		id := rapid.OneOf(rapid.String(), rapid.StringMatching(`[A-Za-z0-9._-]{0,70}`), rapid.StringOfN(rapid.RuneFrom([]rune("a.-_ :\n")), 0, 9, -1)).Draw(t, "id")
		if trail.WellFormed(id) != pattern.MatchString(id) {
			t.Fatalf("%q", id)
		}
	})
}

// TestHandler: lines written in the context of a call have its id, also below groups and attributes; others have none.
func TestHandler(t *testing.T) {
	var out bytes.Buffer
	log := slog.New(trail.Handler(slog.NewJSONHandler(&out, nil)))
	ctx := trail.With(context.Background(), "call-7")
	log.InfoContext(ctx, "one")
	log.With("a", 1).InfoContext(ctx, "two")
	log.Info("three")
	var ids []any
	for _, line := range strings.Split(strings.TrimSpace(out.String()), "\n") {
		fields := map[string]any{}
		if err := json.Unmarshal([]byte(line), &fields); err != nil {
			t.Fatal(err)
		}
		ids = append(ids, fields["request_id"])
	}
	if len(ids) != 3 || ids[0] != "call-7" || ids[1] != "call-7" || ids[2] != nil {
		t.Errorf("%v", ids)
	}
}
