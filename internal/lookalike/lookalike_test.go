package lookalike

import (
	"encoding/json"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func reference[T any](t *testing.T, file string) (read T) {
	t.Helper()
	data, err := os.ReadFile("../../testdata/lookalike/" + file)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &read); err != nil {
		t.Fatal(err)
	}
	return read
}

// TestSkeletons holds skeletons against those of ICU, for every character of the table.
func TestSkeletons(t *testing.T) {
	rows := reference[[][2]string](t, "skeletons.json")
	if len(rows) < 500 {
		t.Fatalf("only %d rows", len(rows))
	}
	for _, row := range rows {
		if got := Skeleton(row[0]); got != row[1] {
			t.Errorf("%+q: %+q, ICU has %+q", row[0], got, row[1])
		}
	}
}

// TestUnseen holds what is taken for unseen against the property of the Unicode Character Database, as ICU has it.
func TestUnseen(t *testing.T) {
	want := map[rune]bool{}
	for _, span := range reference[[][2]rune](t, "ignorable.json") {
		for r := span[0]; r <= span[1]; r++ {
			want[r] = true
		}
	}
	if len(want) < 4000 {
		t.Fatalf("only %d characters", len(want))
	}
	for r := rune(0); r <= 0x10FFFF; r++ {
		if Unseen(r) != want[r] {
			t.Errorf("%U: %v, ICU has %v", r, Unseen(r), want[r])
		}
	}
}

// TestTable: the whole table is read, and a damaged one refused.
func TestTable(t *testing.T) {
	if n := len(confusables()); n != 6311 {
		t.Errorf("%d mappings, 6311 in version 15.0.0 of the standard", n)
	}
	for _, bad := range []string{"x;0041", "0041", "0041;00 zz", "110000000000;0041"} {
		if _, err := parse(bad); err == nil {
			t.Errorf("%q is read", bad)
		}
	}
}

func TestAlike(t *testing.T) {
	for _, pair := range [][2]string{
		{"Imke Vard", "imke  vard"}, {"Imke Vard", "lmke Vard"}, {"Imke Vard", "Imké Vard"}, {"Imke Vard", "ImkeVard"},
		{"Imke Vard", "Іmkе Vаrd"},                   // Cyrillic
		{"Imke Vard", "𝐈𝐦𝐤𝐞 Ｖａｒｄ"},                   // mathematical and wide letters
		{"Imke Vard", "Im\u200dke Vard"},             // a joiner
		{"Imke Vard", "Imke\u00a0Vard"},              // another space
		{"Otto Holm", "0tt0 Ho1m"},                   // digits
		{"Ann Barnes", "Ann Bames"},                  // r and n for m
		{"Finn", "ﬁnn"},                              // a ligature
		{"Zoë Marl", "Zoe\u0308 Marl"},               // two ways to write it
		{"Straße", "strasse"},                        // folding
		{"Mia", "M\u0327\u0327\u0327i\u0301\u0301a"}, // stacks
	} {
		if !Alike(pair[0], pair[1]) || !Alike(pair[1], pair[0]) {
			t.Errorf("%+q and %+q are not taken for alike: %+q, %+q", pair[0], pair[1], Plain(pair[0]), Plain(pair[1]))
		}
	}
	for _, pair := range [][2]string{
		{"Imke Vard", "Imke Vars"}, {"Ben", "Bea"}, {"Jon Marl", "Jan Marl"}, {"", ""}, {"\u200d", "\u200d\u200d"}, {"Lou", "Lea"},
	} {
		if Alike(pair[0], pair[1]) {
			t.Errorf("%q and %q are taken for alike: %q, %q", pair[0], pair[1], Plain(pair[0]), Plain(pair[1]))
		}
	}
}

// TestUnseenChangesNothing: what is not seen between the letters changes no skeleton, and a name is like itself.
func TestUnseenChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOfN(rapid.RuneFrom([]rune("Imke Vardоеаñ0Oл1l")), 1, 30, -1).Draw(t, "text")
		unseen := string(rapid.SampledFrom([]rune{0x200B, 0x200D, 0x2060, 0xE0041, 0xFE0F, 0xAD}).Draw(t, "unseen"))
		hidden := unseen + strings.Join(strings.Split(text, ""), unseen)
		if got, want := Skeleton(hidden), Skeleton(text); got != want {
			t.Fatalf("%+q: %+q, with what is unseen %+q", text, want, got)
		}
		if strings.TrimSpace(text) != "" && !Alike(text, hidden) {
			t.Fatalf("%+q is not like itself", text)
		}
	})
}
