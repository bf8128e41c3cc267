package cli_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gritward/internal/cli"
	"gritward/internal/names"
)

func members() map[string]string {
	return map[string]string{
		"clubs/moor/members/2bcd3fgh": "Ada Fell", "clubs/moor/members/3bcd3fgh": "Ada Fellow", "clubs/moor/members/4bcd3fgh": "Bo",
		"clubs/moor/members/5bcd3fgh": "Bo", "clubs/moor/members/6bcd3fgh": "Zo\u00eb Tarn", "clubs/moor/members/7bcd3fgh": "\u5b89",
	}
}

func TestMeant(t *testing.T) {
	for ref, want := range map[string]string{
		"Ada Fell": "2bcd3fgh", "ada-fell": "2bcd3fgh", " ADA  fell ": "2bcd3fgh", "ada-fello": "3bcd3fgh", "Ada": "Ada Fell (2bcd3fgh) or Ada Fellow (3bcd3fgh)",
		"bo": "Bo (4bcd3fgh) or Bo (5bcd3fgh)", "zoe": "6bcd3fgh", "Zo\u00eb": "6bcd3fgh", "\u5b89": "7bcd3fgh", "Fell": "", "": "", "-": "", "nobody": "", "ada fell-": "2bcd3fgh",
	} {
		got, err := cli.Meant(ref, members())
		if err != nil && !strings.Contains(err.Error(), want+"; write more of it, or the id") || err == nil && (names.Last(got) != want || strings.Contains(want, " or ")) {
			t.Errorf("%q: %q, %v; want %q", ref, got, err, want)
		}
	}
}

// TestRefIsMeant: what is told to type for a member means that member, whatever the others are called.
func TestRefIsMeant(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := map[string]string{}
		for _, id := range rapid.SliceOfNDistinct(rapid.StringMatching(`[2-9b-df-h]{8}`), 1, 6, rapid.ID).Draw(t, "ids") {
			all["clubs/moor/members/"+id] = rapid.StringMatching(`(Ada|Bo|A|\x{5b89}|-)( (Fell|Tarn|A))?`).Draw(t, "name")
		}
		for name := range all {
			ref := cli.Ref(all, name)
			if names.IsMemberID(ref) {
				continue
			}
			if found, err := cli.Meant(ref, all); found != name {
				t.Fatalf("%q is %q, not %q: %v", ref, found, name, err)
			}
		}
	})
}

func TestNamed(t *testing.T) {
	for text, want := range map[string]string{
		"there is no bike 2bcd3fgh/bike-2":    "there is no bike ada-fell/bike-2",
		"4bcd3fgh and 3bcd3fgh, not 9bcd3fgh": "4bcd3fgh and ada-fellow, not 9bcd3fgh",
	} {
		if got := cli.Named(members(), text); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
