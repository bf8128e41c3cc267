package ledger_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"gritward/internal/ledger"
	"gritward/internal/store"
	pb "gritward/proto/gritward/v1"
)

// asks is what is found by the indexes.
func asks(b *book, name string) (said []string) {
	say := func(kind string) func(*pb.Member) error {
		return func(member *pb.Member) error { said = append(said, kind+" "+member.Name); return nil }
	}
	b.read(func(tx *ledger.Tx) error {
		ids, err := tx.Erased()
		said = append(said, fmt.Sprint("erased ", ids))
		for _, ask := range []func() error{
			func() error { return err },
			func() error { return tx.Wards("m1", say("ward")) },
			func() error { return tx.MembersWith(pb.Role_SECRETARY, say("secretary")) },
			func() error { return tx.MembersLike(name, say("like")) },
			func() error {
				from := time.Date(2026, 12, 6, 9, 0, 0, 0, time.UTC)
				return tx.RidesStarting(from, from.AddDate(0, 0, 7), func(ride *pb.Ride) error { said = append(said, "ride "+ride.Name); return nil })
			},
		} {
			if err := ask(); err != nil {
				return err
			}
		}
		return nil
	})
	return said
}

// TestIndexes: whatever is written, what is found by the indexes is what is found by reading all records, before they are
// made and after; and they are as the records have them.
func TestIndexes(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		b := open(t)
		with := rapid.Bool().Draw(r, "with indexes from the beginning")
		if with {
			b.write(func(tx *ledger.Tx) error { return tx.Found(&pb.Club{Title: "Moor", Zone: "UTC"}) })
		}
		for range rapid.IntRange(1, 25).Draw(r, "writes") {
			b.write(func(tx *ledger.Tx) error { return drawnWrite(r, tx) })
		}
		const name = "Ida Holm"
		before := asks(b, name)
		if _, err := b.ledger.Index(t.Context()); err != nil {
			r.Fatal(err)
		}
		sorted := func(said []string) []string { return slices.Sorted(slices.Values(said)) } // rides are in another order where they were moved
		if after := asks(b, name); !slices.Equal(sorted(before), sorted(after)) {
			r.Fatalf("before the indexes were made %v, after %v", before, after)
		}
		b.read(func(tx *ledger.Tx) error {
			faults, err := tx.IndexFaults()
			if len(faults) > 0 {
				r.Fatal(faults)
			}
			return err
		})
		if done, err := b.ledger.Index(t.Context()); len(done) > 0 || err != nil {
			r.Fatalf("made a second time: %v, %v", done, err)
		}
	})
}

func drawnWrite(r *rapid.T, tx *ledger.Tx) error {
	id := fmt.Sprint("m", rapid.IntRange(0, 3).Draw(r, "member"))
	name := "clubs/" + club + "/members/" + id
	day := rapid.IntRange(1, 20).Draw(r, "day")
	ride := fmt.Sprint("2026-12-13-r", rapid.IntRange(0, 2).Draw(r, "ride"))
	switch rapid.IntRange(0, 5).Draw(r, "what") {
	case 0:
		member := &pb.Member{Name: name, DisplayName: rapid.SampledFrom([]string{"Ida Holm", "lda H0lm", "IDA  HOLM", "Ben", "", "\u200d"}).Draw(r, "called"),
			Roles: rapid.SampledFrom([][]pb.Role{{pb.Role_MEMBER}, {pb.Role_MEMBER, pb.Role_SECRETARY}, {pb.Role_GUEST}, {pb.Role_SECRETARY, pb.Role_LEADER}}).Draw(r, "roles")}
		switch rapid.IntRange(0, 3).Draw(r, "in whose care") {
		case 0:
			member.Junior, member.Guardian = true, "clubs/"+club+"/members/m1"
		case 1:
			member.Host = "clubs/" + club + "/members/m1"
		}
		return tx.SaveMember(member)
	case 1:
		return tx.EraseOwned(id)
	case 2:
		return tx.SaveRide(&pb.Ride{Name: "clubs/" + club + "/rides/" + ride, StartAt: timestamppb.New(time.Date(2026, 12, day, 9, 0, 0, 0, time.UTC))})
	case 3:
		if there, err := tx.HasRide(ride); !there || err != nil {
			return err
		}
		return tx.DropRides([]string{ride})
	case 4:
		return tx.SaveSignup(&pb.Signup{Name: "clubs/" + club + "/rides/" + ride + "/signups/" + id,
			State: pb.Signup_State(rapid.IntRange(1, 3).Draw(r, "state")), Turn: int32(day)})
	default:
		return tx.DropSignup(ride, id)
	}
}

// TestIndexFaults: what is not as the records have it is told.
func TestIndexFaults(t *testing.T) {
	b := open(t)
	b.write(func(tx *ledger.Tx) error {
		if err := tx.Found(&pb.Club{Title: "Moor", Zone: "UTC"}); err != nil {
			return err
		}
		if err := tx.SaveMember(&pb.Member{Name: "clubs/" + club + "/members/ida", DisplayName: "Ida", Roles: []pb.Role{pb.Role_SECRETARY}}); err != nil {
			return err
		}
		return tx.SaveSignup(&pb.Signup{Name: "clubs/" + club + "/rides/r/signups/ida", State: pb.Signup_IN, Turn: 1})
	})
	b.tamper(func(tx store.Tx) error {
		if err := tx.Delete("role/SECRETARY/ida"); err != nil {
			return err
		}
		if err := tx.Put("ward/ida/ben", nil); err != nil {
			return err
		}
		return tx.Delete("signup/r/ida")
	})
	b.read(func(tx *ledger.Tx) error {
		faults, err := tx.IndexFaults()
		if len(faults) != 3 {
			t.Errorf("got %q", faults)
		}
		return err
	})
}
