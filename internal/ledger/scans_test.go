package ledger_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

func TestRidesLatestFirst(t *testing.T) {
	b := open(t)
	b.write(func(tx *ledger.Tx) error {
		for _, id := range []string{"2026-12-13-becks", "2027-01-03-moor", "2026-11-29-fen", "2026-12-13-abbey"} {
			if err := tx.SaveRide(&pb.Ride{Name: names.Ride(club, id)}); err != nil {
				return err
			}
		}
		return nil
	})
	for _, c := range []struct {
		before string
		limit  int
		want   []string
	}{
		{"", 0, []string{"2027-01-03-moor", "2026-12-13-becks", "2026-12-13-abbey", "2026-11-29-fen"}},
		{"", 2, []string{"2027-01-03-moor", "2026-12-13-becks"}},
		{"2026-12-13-becks", 2, []string{"2026-12-13-abbey", "2026-11-29-fen"}},
		{"2026-12-13-c", 1, []string{"2026-12-13-becks"}}, // a ride that is not there
		{"2026-11-29-fen", 0, nil},
		{"\xff", 1, []string{"2027-01-03-moor"}},
		{"\x00", 0, nil},
	} {
		t.Run(fmt.Sprintf("%q %d", c.before, c.limit), func(t *testing.T) {
			var got []string
			b.read(func(tx *ledger.Tx) error {
				return tx.Rides(c.before, c.limit, func(ride *pb.Ride) error {
					got = append(got, names.Last(ride.Name))
					return nil
				})
			})
			if diff := cmp.Diff(c.want, got); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// A scan of one member or ride sees nothing of another whose id only begins the same.
func TestScansKeepApart(t *testing.T) {
	b := open(t)
	b.write(func(tx *ledger.Tx) error {
		for _, id := range []string{"a", "a-b", "ab", "b"} {
			for n := int32(1); n <= 12; n += 11 { // 12 sorts after 2 by number, not by letter
				if err := errors.Join(
					tx.AddDeclaration(&pb.Declaration{Name: names.Declaration(club, "ann", id, n), Revision: n}),
					tx.AddRoster(&pb.Roster{Name: names.Roster(club, id, n), Number: n}),
				); err != nil {
					return err
				}
			}
			if err := errors.Join(
				tx.SaveSignup(&pb.Signup{Name: names.Signup(club, id, "ann")}),
				tx.SaveSignup(&pb.Signup{Name: names.Signup(club, id, "ben")}),
				tx.SaveDevice(&pb.DeviceRecord{Device: &pb.Device{Name: names.Device(club, id, "d")}, TokenSha256: sum(id)}),
				tx.SaveBike(&pb.Bike{Name: names.Bike(club, id, "blue")}),
				tx.AddDeclaration(&pb.Declaration{Name: names.Declaration(club, "ann", id, 2), Revision: 2}),
				tx.AddRoster(&pb.Roster{Name: names.Roster(club, id, 2), Number: 2}),
			); err != nil {
				return err
			}
		}
		return nil
	})
	var got []string
	b.read(func(tx *ledger.Tx) error {
		return errors.Join(
			tx.Declarations("ann", "a", 0, 0, func(d *pb.Declaration) error { got = append(got, d.Name); return nil }),
			tx.Rosters("a", func(r *pb.Roster) error { got = append(got, r.Name); return nil }),
			tx.Signups("a", func(s *pb.Signup) error { got = append(got, s.Name); return nil }),
			tx.Devices("a", func(d *pb.DeviceRecord) error { got = append(got, d.Device.Name); return nil }),
			tx.Bikes("a", "", 0, func(bike *pb.Bike) error { got = append(got, bike.Name); return nil }),
		)
	})
	want := []string{
		"clubs/moor/members/ann/bikes/a/declarations/1", "clubs/moor/members/ann/bikes/a/declarations/2",
		"clubs/moor/members/ann/bikes/a/declarations/12",
		"clubs/moor/rides/a/rosters/1", "clubs/moor/rides/a/rosters/2", "clubs/moor/rides/a/rosters/12",
		"clubs/moor/rides/a/signups/ann", "clubs/moor/rides/a/signups/ben",
		"clubs/moor/members/a/devices/d", "clubs/moor/members/a/bikes/blue",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestVisitEndsAScan(t *testing.T) {
	b := open(t)
	enough, seen := errors.New("enough"), 0
	b.write(func(tx *ledger.Tx) error {
		return errors.Join(tx.SaveMember(&pb.Member{Name: names.Member(club, "a")}), tx.SaveMember(&pb.Member{Name: names.Member(club, "b")}))
	})
	err := b.ledger.View(t.Context(), club, func(tx *ledger.Tx) error {
		return tx.Members("", 0, func(*pb.Member) error { seen++; return enough })
	})
	if !errors.Is(err, enough) || seen != 1 {
		t.Errorf("got %v after %d", err, seen)
	}
}

// Pages of members and of bikes, from any position and of any size, are what a sorted slice has there.
func TestPagesAreSlices(t *testing.T) {
	b, n := open(t), 0
	id := rapid.StringMatching(`[ab0][ab0-]{0,3}`)
	rapid.Check(t, func(t *rapid.T) {
		n++
		club := fmt.Sprintf("c%d", n)
		bikes := rapid.SliceOfNDistinct(rapid.Custom(func(t *rapid.T) string {
			return id.Draw(t, "member") + "/" + id.Draw(t, "bike")
		}), 0, 20, rapid.ID).Draw(t, "bikes")
		members := members(bikes)
		err := b.ledger.Update(b.Context(), club, func(tx *ledger.Tx) error { return fill(tx, members, bikes) })
		if err != nil {
			t.Fatal(err)
		}
		slices.Sort(bikes) // the order of Bikes is that of "member/bike"
		after, limit := rapid.OneOf(rapid.Just(""), id, rapid.String()).Draw(t, "after"), rapid.IntRange(0, 8).Draw(t, "limit")
		one := rapid.OneOf(rapid.Just(names.Any), id).Draw(t, "one")
		var gotMembers, gotBikes []string
		err = b.ledger.View(b.Context(), club, func(tx *ledger.Tx) error {
			return errors.Join(
				tx.Members(after, limit, func(m *pb.Member) error { gotMembers = append(gotMembers, names.Last(m.Name)); return nil }),
				tx.Bikes(one, after, limit, func(bike *pb.Bike) error {
					gotBikes = append(gotBikes, ledger.BikePosition(bike.Name))
					return nil
				}))
		})
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(page(members, after, limit, ""), gotMembers); diff != "" {
			t.Fatalf("members after %q, %d: %s", after, limit, diff)
		}
		prefix := one + "/"
		if one == names.Any {
			prefix = ""
		}
		if diff := cmp.Diff(page(bikes, after, limit, prefix), gotBikes); diff != "" {
			t.Fatalf("bikes of %s after %q, %d: %s", one, after, limit, diff)
		}
		walk(t, b, club, bikes, max(limit, 1))
	})
}

// walk goes from page to page as a client does, and must come by every bike once.
func walk(t *rapid.T, b *book, club string, want []string, size int) {
	var got []string
	for position, more := "", true; more; {
		more = false
		err := b.ledger.View(b.Context(), club, func(tx *ledger.Tx) error {
			return tx.Bikes(names.Any, position, size, func(bike *pb.Bike) error {
				position, more = ledger.BikePosition(bike.Name), true
				got = append(got, position)
				return nil
			})
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if !slices.Equal(got, want) {
		t.Fatalf("pages of %d: got %v, want %v", size, got, want)
	}
}

func fill(tx *ledger.Tx, members, bikes []string) error {
	for _, id := range members {
		if err := tx.SaveMember(&pb.Member{Name: names.Member(tx.Club, id)}); err != nil {
			return err
		}
	}
	for _, position := range bikes {
		if err := tx.SaveBike(&pb.Bike{Name: bikeName(tx.Club, position)}); err != nil {
			return err
		}
	}
	return nil
}

func bikeName(club, position string) string {
	member, bike, _ := strings.Cut(position, "/")
	return names.Bike(club, member, bike)
}

// members are the members of those bikes, sorted.
func members(bikes []string) (ids []string) {
	for _, position := range bikes {
		member, _, _ := strings.Cut(position, "/")
		ids = append(ids, member)
	}
	slices.Sort(ids)
	return slices.Compact(ids)
}

// page is what of a sorted slice begins with prefix and lies after a position; at most limit, 0: all.
func page(all []string, after string, limit int, prefix string) (got []string) {
	for _, one := range all {
		if len(one) >= len(prefix) && one[:len(prefix)] == prefix && one > after && (limit == 0 || len(got) < limit) {
			got = append(got, one)
		}
	}
	return got
}

// Recorded times come latest first, of one group or of all, from before a day; written twice they count once, and a
// group whose id only begins the same stays apart.
func TestRecordedTimes(t *testing.T) {
	b := open(t)
	recorded := func(group, day, ride string) *pb.RecordedTime {
		return &pb.RecordedTime{Group: group, Day: day, Ride: names.Ride(club, ride), TookMin: 100}
	}
	b.write(func(tx *ledger.Tx) error {
		for _, one := range []*pb.RecordedTime{
			recorded("easy", "2026-12-06", "b"), recorded("easy", "2026-12-13", "a"), recorded("easy", "2026-12-06", "c"),
			recorded("easy", "2026-12-06", "b"), recorded("easy-2", "2026-12-05", "b"), recorded("brisk", "2026-12-06", "b"),
			recorded("easy", "2026-11-01", "gone"),
		} {
			if err := tx.SaveRecordedTime(one); err != nil {
				return err
			}
		}
		if err := tx.DropRecordedTime(recorded("easy", "2026-11-01", "not there")); err != nil {
			return err
		}
		return tx.DropRecordedTime(recorded("easy", "2026-11-01", "gone"))
	})
	for _, c := range []struct {
		group, before string
		limit         int
		want          string
	}{
		{"", "", 0, "easy/2026-12-13/a easy/2026-12-06/c easy/2026-12-06/b easy-2/2026-12-05/b brisk/2026-12-06/b"},
		{"easy", "", 0, "easy/2026-12-13/a easy/2026-12-06/c easy/2026-12-06/b"},
		{"easy", "easy/2026-12-13", 0, "easy/2026-12-06/c easy/2026-12-06/b"},
		{"easy", "easy/2026-12-13", 1, "easy/2026-12-06/c"},
		{"easy", "easy/2026-12-06", 0, ""},
		{"eas", "", 0, ""},
	} {
		var got []string
		b.read(func(tx *ledger.Tx) error {
			return tx.RecordedTimes(c.group, c.before, c.limit, func(one *pb.RecordedTime) error {
				got = append(got, ledger.RecordedTimeID(one))
				return nil
			})
		})
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%q before %q, %d: %s, want %s", c.group, c.before, c.limit, s, c.want)
		}
	}
	b.refused(func(tx *ledger.Tx) error { return tx.SaveRecordedTime(&pb.RecordedTime{Ride: "clubs/other/rides/a"}) })
}
