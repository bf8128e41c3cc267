package names_test

import (
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"gritward/internal/fault"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// shapes lists each shape with a name of it as the builders make it, and what Parse finds in it.
func shapes() []struct {
	shape, name string
	ids         []string
} {
	return []struct {
		shape, name string
		ids         []string
	}{
		{names.ClubShape, names.Club("moor"), []string{"moor"}},
		{names.MemberShape, names.Member("moor", "ann"), []string{"moor", "ann"}},
		{names.DeviceShape, names.Device("moor", "ann", "d1"), []string{"moor", "ann", "d1"}},
		{names.BikeShape, names.Bike("moor", "ann", "blue"), []string{"moor", "ann", "blue"}},
		{names.DeclarationShape, names.Declaration("moor", "ann", "blue", 3), []string{"moor", "ann", "blue", "3"}},
		{names.InviteShape, names.Invite("moor", "xyz"), []string{"moor", "xyz"}},
		{names.PolicyShape, names.Policy("moor", 2), []string{"moor", "2"}},
		{names.RideShape, names.Ride("moor", "2026-12-13-long"), []string{"moor", "2026-12-13-long"}},
		{names.SignupShape, names.Signup("moor", "r", "ann"), []string{"moor", "r", "ann"}},
		{names.RosterShape, names.Roster("moor", "r", 12), []string{"moor", "r", "12"}},
	}
}

func TestBuildAndParse(t *testing.T) {
	want := []string{
		"clubs/moor", "clubs/moor/members/ann", "clubs/moor/members/ann/devices/d1", "clubs/moor/members/ann/bikes/blue",
		"clubs/moor/members/ann/bikes/blue/declarations/3", "clubs/moor/invites/xyz", "clubs/moor/policies/2",
		"clubs/moor/rides/2026-12-13-long", "clubs/moor/rides/r/signups/ann", "clubs/moor/rides/r/rosters/12",
	}
	for i, c := range shapes() {
		t.Run(c.shape, func(t *testing.T) {
			if c.name != want[i] {
				t.Errorf("built %s, want %s", c.name, want[i])
			}
			ids, err := names.Parse("name", c.name, c.shape)
			if err != nil || !slices.Equal(ids, c.ids) {
				t.Errorf("got %v, %v; want %v", ids, err, c.ids)
			}
			if last := names.Last(c.name); last != c.ids[len(c.ids)-1] {
				t.Errorf("Last is %q", last)
			}
			for j, other := range shapes() {
				if _, err := names.Parse("name", c.name, other.shape); i != j && err == nil {
					t.Errorf("%s passes for a %s", c.name, other.shape)
				}
			}
		})
	}
}

func TestParseAny(t *testing.T) {
	ids, err := names.Parse("name", "clubs/moor/members/-/bikes/-", names.BikeShape)
	if diff := cmp.Diff([]string{"moor", names.Any, names.Any}, ids); err != nil || diff != "" {
		t.Errorf("%v %s", err, diff)
	}
	if _, err := names.Parse("name", "-/moor", names.ClubShape); err == nil {
		t.Error("Any passes for a collection")
	}
}

func TestParseMessages(t *testing.T) {
	for _, c := range []struct{ name, shape, want string }{
		{"clubs/A", names.ClubShape, `name: "clubs/A" is not a name of the form clubs/{club}`},
		{"", names.PolicyShape, `name: "" is not a name of the form clubs/{club}/policies/{policy}`},
		{"x", names.DeclarationShape,
			`name: "x" is not a name of the form clubs/{club}/members/{member}/bikes/{bike}/declarations/{declaration}`},
		{"clubs/\xff", names.SignupShape, `name: "clubs/\xff" is not a name of the form clubs/{club}/rides/{ride}/signups/{signup}`},
	} {
		_, err := names.Parse("name", c.name, c.shape)
		if want := "the request is not as it must be; " + c.want; err == nil || err.Error() != want {
			t.Errorf("got  %v\nwant %s", err, want)
		}
	}
}

// hostile lists what must never pass for one part of a name.
func hostile() []string {
	return []string{
		"", ".", "..", "../x", "a/b", "/", "//", "a.b", "a b", " a", "a ", "a\n", "\na", "A", "aB", "ä", "a\x00", "\x00", "\xff",
		"a\xc0\xaf", "a%2fb", "a\\b", "-a", "_", "*", "{member}", "а" /* Cyrillic */, "ａ" /* full width */, "a\u200b",
		strings.Repeat("a", 81), strings.Repeat("a", 10<<20), strings.Repeat("/", 10<<20), strings.Repeat("é", 5<<20),
	}
}

func TestHostileIDs(t *testing.T) {
	for _, id := range hostile() {
		if names.ValidID(id) {
			t.Errorf("ValidID(%.40q)", id)
		}
		for _, name := range []string{names.Member("moor", id), names.Member(id, "ann")} {
			if ids, err := names.Parse("name", name, names.MemberShape); !fault.Is(err, pb.Reason_FIELD_INVALID) {
				t.Errorf("Parse(%.80q) = %v, %v", name, ids, err)
			} else if len(err.Error()) > 500 {
				t.Errorf("%d bytes of error", len(err.Error()))
			}
		}
	}
	for _, name := range []string{
		"/clubs/moor/members/ann", "clubs/moor/members/ann/", "clubs//moor/members/ann", "clubs/moor/members/ann/bikes/b",
		" clubs/moor/members/ann", "clubs/moor/members/ann\x00", "clubs/moor/members/ann\n", "Clubs/moor/members/ann", "clubs/moor", "",
	} {
		if ids, err := names.Parse("name", name, names.MemberShape); !fault.Is(err, pb.Reason_FIELD_INVALID) {
			t.Errorf("Parse(%q) = %v, %v", name, ids, err)
		}
	}
	for _, id := range []string{"a", "0", "a-", "a--b", "2026-12-13-x", strings.Repeat("a", 80)} {
		if !names.ValidID(id) {
			t.Errorf("not ValidID(%q)", id)
		}
	}
}

// A name of ten million slashes is refused without a slice of ten million parts.
func TestManySlashes(t *testing.T) {
	name := "clubs/a" + strings.Repeat("/", 10<<20)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	_, err := names.Parse("name", name, names.BikeShape)
	part := names.Part(name, "rides")
	runtime.ReadMemStats(&after)
	if used := after.TotalAlloc - before.TotalAlloc; err == nil || part != "" || used > 1<<20 {
		t.Errorf("got %q, %.200v, with %d bytes of memory", part, err, used)
	}
}

func TestIn(t *testing.T) {
	ids, err := names.In("moor", "parent", "clubs/moor/members/ann", names.MemberShape)
	if err != nil || !slices.Equal(ids, []string{"moor", "ann"}) {
		t.Errorf("got %v, %v", ids, err)
	}
	for name, want := range map[string]string{
		"clubs/fen/members/ann":  `parent: "clubs/fen/members/ann" is another club's; yours is clubs/moor`,
		"clubs/-/members/ann":    `parent: "clubs/-/members/ann" is another club's; yours is clubs/moor`,
		"clubs/moor/members/ANN": `parent: "clubs/moor/members/ANN" is not a name of the form clubs/{club}/members/{member}`,
	} {
		_, err := names.In("moor", "parent", name, names.MemberShape)
		if !fault.Is(err, pb.Reason_FIELD_INVALID) || err.Error() != "the request is not as it must be; "+want {
			t.Errorf("got  %v\nwant %s", err, want)
		}
	}
}

func TestPart(t *testing.T) {
	for _, c := range []struct{ name, collection, want string }{
		{"clubs/a/rides/b/signups/c", "clubs", "a"},
		{"clubs/a/rides/b/signups/c", "rides", "b"},
		{"clubs/a/rides/b/signups/c", "signups", "c"},
		{"clubs/a/rides/b/signups/c", "members", ""},
		{"clubs/rides/members/b", "rides", ""}, // an id that looks like a collection
		{"clubs/rides/rides/clubs", "rides", "clubs"},
		{"clubs/a/rides", "rides", ""},
		{"clubs/a/rides/", "rides", ""},
		{"", "clubs", ""}, {"clubs", "clubs", ""}, {"/", "", ""}, {"//x", "", ""},
		{"clubs/a/rides/b/rides/c", "rides", "b"},
	} {
		if got := names.Part(c.name, c.collection); got != c.want {
			t.Errorf("Part(%q, %q) = %q, want %q", c.name, c.collection, got, c.want)
		}
	}
}

func TestLast(t *testing.T) {
	for name, want := range map[string]string{"": "", "a": "a", "clubs/a": "a", "clubs/": "", "/": "", "a/b/c": "c", "\xff/\x00": "\x00"} {
		if got := names.Last(name); got != want {
			t.Errorf("Last(%q) = %q, want %q", name, got, want)
		}
	}
}

func TestSlug(t *testing.T) {
	for _, c := range []struct {
		title string
		limit int
		want  string
	}{
		{"Blue Winter Bike", 40, "blue-winter-bike"},
		{"  --Blue!!  ", 40, "blue"},
		{"2026-12-13 Four Becks", 40, "2026-12-13-four-becks"},
		{"Café Ride", 40, "cafe-ride"},
		{"İstanbul", 40, "istanbul"},
		{"Kelvin 3 K", 40, "kelvin-3-k"},
		{"日本", 40, ""}, {"", 40, ""}, {"---", 40, ""}, {"\x00\xff", 40, ""}, {"../../etc", 40, "etc"},
		{"abc def", 4, "abc"}, {"abc def", 5, "abc-d"}, {"abc", 0, ""}, {"abc", -1, ""},
		{strings.Repeat("a", 200), 1000, strings.Repeat("a", 80)},
		{strings.Repeat("a ", 5<<20), 7, "a-a-a-a"},
	} {
		if got := names.Slug(c.title, c.limit); got != c.want {
			t.Errorf("Slug(%.40q, %d) = %q, want %q", c.title, c.limit, got, c.want)
		}
	}
}
