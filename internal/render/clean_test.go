package render_test

import (
	"strings"
	"testing"
	"unicode/utf8"

	"gritward/internal/render"
	"gritward/internal/render/rostertest"
)

// explicitBidi are the explicit formatting characters of Unicode Standard Annex 9, table 1 and section 2.7 (from memory):
// those that can turn the order of a line around.
const explicitBidi = "\u061C\u200E\u200F\u202A\u202B\u202C\u202D\u202E\u2066\u2067\u2068\u2069"

func TestClean(t *testing.T) {
	for _, c := range []struct{ name, in, want string }{
		{"plain", "Ann Aske", "Ann Aske"},
		{"line breaks are spaces", "Ann\r\nAske\u2028x\u2029y\vz", "Ann Aske x y z"},
		{"spaces at the ends", "  Ann \t", "Ann"},
		{"escapes", "\x1b[31mred", "[31mred"},
		{"bidi", "a" + explicitBidi + "b", "ab"},
		{"bad bytes", "a\xffb", "a\uFFFDb"},
		{"no characters", "a\uFFFE\uFFFF\uFDD0\U0001FFFEb", "ab"},
		{"other scripts stay", "夜 שלום Ärents", "夜 שלום Ärents"},
		{"emoji stay joined", "👩‍👧", "👩‍👧"},
		{"marks are bounded", "e" + strings.Repeat("\u0301", 9), "e" + strings.Repeat("\u0301", 4)},
		{"markup is not its business", "<b>", "<b>"},
		{"length is bounded", strings.Repeat("a", 10000), strings.Repeat("a", 2000) + "…"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := render.Clean(c.in); got != c.want {
				t.Errorf("Clean(%q) = %q, want %q", c.in, got, c.want)
			}
		})
	}
}

func FuzzClean(f *testing.F) {
	for _, s := range rostertest.Hostile() {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got := render.Clean(s)
		if !utf8.ValidString(got) || strings.ContainsAny(got, explicitBidi+"\x00\x1b\r\n\t\u2028\u2029\uFEFF\uFFFE\uFFFF") {
			t.Errorf("Clean(%q) = %q lets something through", s, got)
		}
		if n := utf8.RuneCountInString(got); n > 2001 {
			t.Errorf("Clean gave %d characters", n)
		}
		if again := render.Clean(got); !strings.HasSuffix(got, "…") && again != got {
			t.Errorf("Clean(%q) = %q, cleaned again %q", s, got, again)
		}
	})
}
