package ledger_test

import (
	"errors"
	"strings"
	"testing"

	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/store"
	pb "gritward/proto/gritward/v1"
)

// wantDamaged holds an error against what is said of a damaged record.
func wantDamaged(t *testing.T, err error, key string) {
	t.Helper()
	if err == nil || !strings.HasPrefix(err.Error(), `record "`+key+`" is damaged: restore the store from a backup (`) {
		t.Errorf("got %v, want that %s is damaged", err, key)
	}
}

// A record whose name is not one of the club would lie where nobody finds it, or over another.
func TestNamesThatAreNotSaved(t *testing.T) {
	bad := []string{
		"", "ann", "clubs/moor", "clubs/moor/members/", "clubs/moor/members/-", "clubs/fen/members/ann", "clubs/moor/members/../x",
		"clubs/moor/members/ann/bikes/", "clubs/moor/members/ann/bikes/-", "clubs/moor/members/ann/x/y/z/w", "clubs/fen/rides/r",
		"clubs/moor/rides/R", "clubs/moor/rides/r/signups/-", "clubs/fen/rides/r/signups/ann", "clubs/moor/rides/r/rosters/-",
		"clubs/moor/members/ann\x00", "\xff", strings.Repeat("/", 1<<20),
	}
	for kind, save := range map[string]func(*ledger.Tx, string) error{
		"member": func(tx *ledger.Tx, name string) error { return tx.SaveMember(&pb.Member{Name: name}) },
		"bike":   func(tx *ledger.Tx, name string) error { return tx.SaveBike(&pb.Bike{Name: name}) },
		"declaration": func(tx *ledger.Tx, name string) error {
			return tx.AddDeclaration(&pb.Declaration{Name: name, Revision: 1})
		},
		"device": func(tx *ledger.Tx, name string) error {
			return tx.SaveDevice(&pb.DeviceRecord{Device: &pb.Device{Name: name}, TokenSha256: sum("t")})
		},
		"invite": func(tx *ledger.Tx, name string) error {
			return tx.SaveInvite(&pb.InviteRecord{Invite: &pb.Invite{Name: name}, CodeSha256: sum("c")})
		},
		"ride":   func(tx *ledger.Tx, name string) error { return tx.SaveRide(&pb.Ride{Name: name}) },
		"signup": func(tx *ledger.Tx, name string) error { return tx.SaveSignup(&pb.Signup{Name: name}) },
		"roster": func(tx *ledger.Tx, name string) error { return tx.AddRoster(&pb.Roster{Name: name, Number: 1}) },
	} {
		t.Run(kind, func(t *testing.T) {
			b := open(t)
			for _, name := range bad {
				err := b.refused(func(tx *ledger.Tx) error { return save(tx, name) })
				if !strings.Contains(err.Error(), "cannot be saved: it is not of the form clubs/*/") || len(err.Error()) > 1200 {
					t.Errorf("%.60q: %.300v", name, err)
				}
			}
			if keys, _ := b.keys(""); len(keys) != 0 {
				t.Errorf("left: %v", keys)
			}
		})
	}
}

func TestRecordsThatAreNotSaved(t *testing.T) {
	b := open(t)
	device := &pb.Device{Name: names.Device(club, "ann", "d1")}
	invite := &pb.Invite{Name: names.Invite(club, "i1")}
	for name, c := range map[string]struct {
		save func(*ledger.Tx) error
		want string
	}{
		"roster of another number": {func(tx *ledger.Tx) error {
			return tx.AddRoster(&pb.Roster{Name: names.Roster(club, "r", 2), Number: 3})
		}, "ledger: clubs/moor/rides/r/rosters/2 cannot be saved: by its number it is clubs/moor/rides/r/rosters/3"},
		"declaration of another number": {func(tx *ledger.Tx) error {
			return tx.AddDeclaration(&pb.Declaration{Name: names.Declaration(club, "ann", "blue", 2)})
		}, "ledger: clubs/moor/members/ann/bikes/blue/declarations/2 cannot be saved: by its number it is clubs/moor/members/ann/bikes/blue/declarations/0"},
		"device without its hash": {func(tx *ledger.Tx) error { return tx.SaveDevice(&pb.DeviceRecord{Device: device}) },
			"ledger: a secret's hash has 0 bytes; SHA-256 has 32"},
		"device without its device": {func(tx *ledger.Tx) error { return tx.SaveDevice(&pb.DeviceRecord{TokenSha256: sum("t")}) },
			`ledger: "" cannot be saved: it is not of the form clubs/*/members/*/devices/* in club moor`},
		"invite with its code for a hash": {func(tx *ledger.Tx) error {
			return tx.SaveInvite(&pb.InviteRecord{Invite: invite, CodeSha256: []byte("moor.code")})
		}, "ledger: a secret's hash has 9 bytes; SHA-256 has 32"},
		"invite with its code": {func(tx *ledger.Tx) error {
			return tx.SaveInvite(&pb.InviteRecord{
				Invite: &pb.Invite{Name: invite.Name, Code: "moor.code"}, CodeSha256: sum("moor.code")})
		}, "ledger: clubs/moor/invites/i1 cannot be saved with its code; only the code's hash is kept"},
	} {
		t.Run(name, func(t *testing.T) {
			if err := b.refused(c.save); err.Error() != c.want {
				t.Errorf("got  %v\nwant %s", err, c.want)
			}
		})
	}
}

func TestWhenNothingCanBeWritten(t *testing.T) {
	b := open(t)
	ann := &pb.Member{Name: names.Member(club, "ann")}
	b.write(func(tx *ledger.Tx) error { return tx.SaveMember(ann) })
	if err := b.ledger.View(t.Context(), club, func(tx *ledger.Tx) error { return tx.SaveMember(ann) }); !errors.Is(err, store.ErrReadOnly) {
		t.Errorf("a View wrote: %v", err)
	}
	if err := b.refused(func(tx *ledger.Tx) error { return tx.Members("", 0, tx.SaveMember) }); !errors.Is(err, store.ErrScanning) {
		t.Errorf("a scan wrote: %v", err)
	}
	if err := b.ledger.Update(t.Context(), "../x", func(*ledger.Tx) error { return nil }); !errors.Is(err, store.ErrClubID) {
		t.Errorf("a club of a bad id: %v", err)
	}
}

// A damaged record stops a scan with its key.
func TestScansOfDamagedRecords(t *testing.T) {
	for key, scan := range map[string]func(*ledger.Tx) error{
		"member/a": func(tx *ledger.Tx) error { return tx.Members("", 0, func(*pb.Member) error { return nil }) },
		"bike/a/b": func(tx *ledger.Tx) error { return tx.Bikes("-", "", 0, func(*pb.Bike) error { return nil }) },
		"declaration/a/b/00000001": func(tx *ledger.Tx) error {
			return tx.Declarations("a", "b", 0, 0, func(*pb.Declaration) error { return nil })
		},
		"device/a/d":      func(tx *ledger.Tx) error { return tx.Devices("a", func(*pb.DeviceRecord) error { return nil }) },
		"policy/00000001": func(tx *ledger.Tx) error { return tx.AddPolicy(&pb.PolicyRevision{}) },
		"policy/00000002": func(tx *ledger.Tx) error {
			_, err := tx.PolicyOn("2026-12-01")
			return err
		},
		"ride/r":                 func(tx *ledger.Tx) error { return tx.Rides("", 0, func(*pb.Ride) error { return nil }) },
		"signup/r/a":             func(tx *ledger.Tx) error { return tx.Signups("r", func(*pb.Signup) error { return nil }) },
		"roster/r/00000001":      func(tx *ledger.Tx) error { return tx.Rosters("r", func(*pb.Roster) error { return nil }) },
		"audit/0000000000000001": func(tx *ledger.Tx) error { return tx.Append(&pb.AuditEntry{}) },
		"audit/0000000000000002": func(tx *ledger.Tx) error { return tx.AuditDown(0, 0, func(*pb.AuditEntry) error { return nil }) },
		"request/a/1": func(tx *ledger.Tx) error {
			_, err := tx.Answered(&ledger.Request{Member: "a", ID: "1"})
			return err
		},
	} {
		t.Run(key, func(t *testing.T) {
			b := open(t)
			b.raw(key, []byte("\xff\xff\xff"))
			wantDamaged(t, b.refused(scan), key)
		})
	}
}
