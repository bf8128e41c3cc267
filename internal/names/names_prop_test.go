package names_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gritward/internal/fault"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

func id() *rapid.Generator[string] { return rapid.StringMatching(`[a-z0-9][a-z0-9-]{0,79}`) }

// What a builder makes of good ids, Parse takes apart again, and Part and Last agree.
func TestBuildThenParse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		club, a, b := id().Draw(t, "club"), id().Draw(t, "a"), id().Draw(t, "b")
		for _, c := range []struct {
			name, shape string
			ids         []string
			collection  string
		}{
			{names.Member(club, a), names.MemberShape, []string{club, a}, "members"},
			{names.Bike(club, a, b), names.BikeShape, []string{club, a, b}, "bikes"},
			{names.Device(club, a, b), names.DeviceShape, []string{club, a, b}, "devices"},
			{names.Ride(club, a), names.RideShape, []string{club, a}, "rides"},
			{names.Signup(club, a, b), names.SignupShape, []string{club, a, b}, "signups"},
			{names.Invite(club, a), names.InviteShape, []string{club, a}, "invites"},
		} {
			ids, err := names.In(club, "name", c.name, c.shape)
			last := c.ids[len(c.ids)-1]
			if err != nil || !slices.Equal(ids, c.ids) || names.Last(c.name) != last || names.Part(c.name, c.collection) != last {
				t.Fatalf("%s: %v, %v; Last %q, Part %q", c.name, ids, err, names.Last(c.name), names.Part(c.name, c.collection))
			}
		}
	})
}

func TestSlugIsAnID(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		title := rapid.OneOf(rapid.String(), rapid.StringMatching(`[ -~]{0,120}`), id()).Draw(t, "title")
		limit := rapid.IntRange(-2, 120).Draw(t, "limit")
		slug := names.Slug(title, limit)
		if slug != "" && !names.ValidID(slug) || len(slug) > max(limit, 0) || names.Slug(slug, limit) != slug {
			t.Fatalf("Slug(%q, %d) = %q", title, limit, slug)
		}
	})
}

// Part finds what a plain split finds.
func TestPartIsASplit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := strings.Join(rapid.SliceOfN(rapid.SampledFrom([]string{"clubs", "rides", "a", "b", "", "-"}), 0, 8).Draw(t, "parts"), "/")
		parts, want := strings.Split(name, "/"), ""
		for i := 0; i+1 < len(parts); i += 2 {
			if parts[i] == "rides" {
				want = parts[i+1]
				break
			}
		}
		if got := names.Part(name, "rides"); got != want {
			t.Fatalf("Part(%q) = %q, want %q", name, got, want)
		}
	})
}

func FuzzParse(f *testing.F) {
	all := shapes()
	for i, c := range all {
		f.Add(c.name, i)
	}
	for _, id := range []string{"", "..", "a/b", "\x00", "\xff", "-", "A", strings.Repeat("/", 100)} {
		f.Add("clubs/"+id, 0)
		f.Add("clubs/moor/members/"+id, 1)
	}
	f.Fuzz(func(t *testing.T, name string, n int) {
		shape := all[uint(n)%uint(len(all))].shape
		ids, err := names.Parse("name", name, shape)
		if err != nil {
			if ids != nil || !fault.Is(err, pb.Reason_FIELD_INVALID) || len(err.Error()) > 800 {
				t.Fatalf("Parse(%q, %s) = %v, %.900v", name, shape, ids, err)
			}
			return
		}
		built := shape
		for _, id := range ids {
			if id != names.Any && !names.ValidID(id) {
				t.Fatalf("Parse(%q) let %q pass", name, id)
			}
			built = strings.Replace(built, "*", id, 1)
		}
		if built != name {
			t.Fatalf("%q was read as %q", name, built)
		}
	})
}

func BenchmarkParse(b *testing.B) {
	for b.Loop() {
		if _, err := names.Parse("name", "clubs/moor/members/ann/bikes/blue", names.BikeShape); err != nil {
			b.Fatal(err)
		}
	}
}
