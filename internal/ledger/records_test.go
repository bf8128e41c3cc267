package ledger_test

import (
	"crypto/sha256"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

func sum(secret string) []byte {
	hash := sha256.Sum256([]byte(secret))
	return hash[:]
}

// kind is one kind of record: how it is saved and read, under which key it lies, and how its absence is told.
type kind struct {
	name, key, missing string
	record             proto.Message
	save               func(*ledger.Tx) error
	load               func(*ledger.Tx) (proto.Message, error)
}

func kinds() []kind {
	title := "blue winter bike"
	member := &pb.Member{Name: "clubs/moor/members/ann", DisplayName: "Ann", Roles: []pb.Role{pb.Role_MEMBER}, PaceMaxKmh: 27.5}
	bike := &pb.Bike{Name: "clubs/moor/members/ann/bikes/blue", Declaration: &pb.Declaration{
		Revision: 1, Facts: &pb.BikeFacts{Title: title}}, RiddenKm: 12}
	ride := &pb.Ride{Name: "clubs/moor/rides/2026-12-13-becks", Title: "Becks", StartLocal: "2026-12-13T09:00"}
	line := &pb.RouteLine{Title: "Becks", LatDeg: []float64{54, 54.1}, LonDeg: []float64{-2, -2.1}}
	signup := &pb.Signup{Name: ride.Name + "/signups/ann", Member: member.Name, State: pb.Signup_IN}
	roster := &pb.Roster{Name: ride.Name + "/rosters/1", Number: 1, Zone: "Europe/London"}
	policy := &pb.PolicyRevision{Number: 1, EffectiveFrom: "2026-12-01", Text: "title: x\n"}
	device := &pb.DeviceRecord{Device: &pb.Device{Name: member.Name + "/devices/d1", Title: "phone"}, TokenSha256: sum("moor.token")}
	founded := &pb.Club{Title: "Moor Wheelers", Zone: "Europe/London"}
	return []kind{
		{"club", "club", "there is no clubs/moor", founded,
			func(t *ledger.Tx) error { return t.Found(founded) },
			func(t *ledger.Tx) (proto.Message, error) { return t.ClubRecord() }},
		{"member", "member/ann", "there is no clubs/moor/members/ann", member,
			func(t *ledger.Tx) error { return t.SaveMember(member) },
			func(t *ledger.Tx) (proto.Message, error) { return t.Member("ann") }},
		{"device", "device/ann/d1", "there is no clubs/moor/members/ann/devices/d1", device,
			func(t *ledger.Tx) error { return t.SaveDevice(device) },
			func(t *ledger.Tx) (proto.Message, error) { return t.Device("ann", "d1") }},
		{"bike", "bike/ann/blue", "there is no clubs/moor/members/ann/bikes/blue", bike,
			func(t *ledger.Tx) error { return t.SaveBike(bike) },
			func(t *ledger.Tx) (proto.Message, error) { return t.Bike("ann", "blue") }},
		{"policy", "policy/00000001", "there is no clubs/moor/policies/1", policy,
			func(t *ledger.Tx) error { return t.AddPolicy(policy) },
			func(t *ledger.Tx) (proto.Message, error) { return t.Policy(1) }},
		{"ride", "ride/2026-12-13-becks", "there is no clubs/moor/rides/2026-12-13-becks", ride,
			func(t *ledger.Tx) error { return t.SaveRide(ride) },
			func(t *ledger.Tx) (proto.Message, error) { return t.Ride("2026-12-13-becks") }},
		{"route", "route/2026-12-13-becks", "there is no clubs/moor/rides/2026-12-13-becks/route", line,
			func(t *ledger.Tx) error { return t.SaveRoute("2026-12-13-becks", line) },
			func(t *ledger.Tx) (proto.Message, error) { return t.Route("2026-12-13-becks") }},
		{"signup", "signup/2026-12-13-becks/ann", "there is no clubs/moor/rides/2026-12-13-becks/signups/ann", signup,
			func(t *ledger.Tx) error { return t.SaveSignup(signup) },
			func(t *ledger.Tx) (proto.Message, error) { return t.Signup("2026-12-13-becks", "ann") }},
		{"roster", "roster/2026-12-13-becks/00000001", "there is no clubs/moor/rides/2026-12-13-becks/rosters/1", roster,
			func(t *ledger.Tx) error { return t.AddRoster(roster) },
			func(t *ledger.Tx) (proto.Message, error) { return t.Roster("2026-12-13-becks", 1) }},
	}
}

// Every kind: missing, saved, read back as it was, damaged.
func TestEveryKind(t *testing.T) {
	for _, c := range kinds() {
		t.Run(c.name, func(t *testing.T) {
			b := open(t)
			err := b.ledger.View(t.Context(), club, func(tx *ledger.Tx) error {
				_, err := c.load(tx)
				return err
			})
			wantFault(t, err, pb.Reason_NOT_FOUND, c.missing)
			b.write(c.save)
			b.read(func(tx *ledger.Tx) error {
				got, err := c.load(tx)
				if diff := cmp.Diff(c.record, got, protocmp.Transform()); err == nil && diff != "" {
					t.Error(diff)
				}
				return err
			})
			b.raw(c.key, []byte("\xff\xff\xffgarbage"))
			err = b.ledger.View(t.Context(), club, func(tx *ledger.Tx) error {
				_, err := c.load(tx)
				return err
			})
			wantDamaged(t, err, c.key)
		})
	}
}

func TestFound(t *testing.T) {
	b := open(t)
	b.write(func(tx *ledger.Tx) error { return tx.Found(&pb.Club{Title: "Moor"}) })
	b.read(func(tx *ledger.Tx) error {
		got, err := tx.ClubRecord()
		want := &pb.Club{Name: "clubs/moor", Title: "Moor", CreatedAt: timestamppb.New(b.now), Etag: got.Etag}
		if diff := cmp.Diff(want, got, protocmp.Transform()); diff != "" || len(got.Etag) != 16 {
			t.Errorf("etag %q %s", got.Etag, diff)
		}
		return err
	})
	err := b.refused(func(tx *ledger.Tx) error { return tx.Found(&pb.Club{Title: "Fen"}) })
	wantFault(t, err, pb.Reason_ALREADY_EXISTS, `there is a club "moor" in this store already`)
	clubs, err := b.ledger.Clubs(t.Context())
	if diff := cmp.Diff([]string{"moor"}, clubs); err != nil || diff != "" {
		t.Errorf("%v %s", err, diff)
	}
}

func TestInvites(t *testing.T) {
	b := open(t)
	record := &pb.InviteRecord{Invite: &pb.Invite{Name: "clubs/moor/invites/i1", DisplayName: "Ben"}, CodeSha256: sum("moor.code")}
	find := func(code string) (found *pb.InviteRecord) {
		b.read(func(tx *ledger.Tx) (err error) {
			found, err = tx.InviteByCode(code)
			return err
		})
		return found
	}
	if got := find("moor.code"); got != nil {
		t.Errorf("got %v", got)
	}
	b.write(func(tx *ledger.Tx) error { return tx.SaveInvite(record) })
	if diff := cmp.Diff(record, find("moor.code"), protocmp.Transform()); diff != "" {
		t.Error(diff)
	}
	for _, code := range []string{"", "moor.cod", "moor.code ", "MOOR.CODE", string(sum("moor.code")), "\xff"} {
		if got := find(code); got != nil {
			t.Errorf("%q finds %v", code, got)
		}
	}
}

func TestFindSignupAndHasRide(t *testing.T) {
	b := open(t)
	b.write(func(tx *ledger.Tx) error {
		if found, err := tx.FindSignup("r", "ann"); found != nil || err != nil {
			t.Errorf("got %v, %v", found, err)
		}
		if has, err := tx.HasRide("r"); has || err != nil {
			t.Errorf("got %t, %v", has, err)
		}
		signup := &pb.Signup{Name: names.Signup(club, "r", "ann"), DisplayName: "Ann", Standings: []*pb.Assessment{{}}}
		if err := tx.SaveSignup(signup); err != nil {
			return err
		}
		found, err := tx.FindSignup("r", "ann")
		if err != nil || found.Name != signup.Name || found.DisplayName != "" || found.Standings != nil {
			t.Errorf("got %v, %v; what is computed must not be stored", found, err)
		}
		if err := tx.SaveRide(&pb.Ride{Name: names.Ride(club, "r")}); err != nil {
			return err
		}
		has, err := tx.HasRide("r")
		if !has {
			t.Error("the ride is not seen in its own transaction")
		}
		return err
	})
}

// Numbered records are never written over.
func TestNumberedRecordsStay(t *testing.T) {
	b := open(t)
	roster := &pb.Roster{Name: names.Roster(club, "r", 1), Number: 1, Zone: "first"}
	declaration := &pb.Declaration{Name: names.Declaration(club, "ann", "blue", 1), Revision: 1, CertifiedBy: "first"}
	b.write(func(tx *ledger.Tx) error { return tx.AddRoster(roster) })
	b.write(func(tx *ledger.Tx) error { return tx.AddDeclaration(declaration) })
	err := b.refused(func(tx *ledger.Tx) error {
		return tx.AddRoster(&pb.Roster{Name: roster.Name, Number: 1, Zone: "second"})
	})
	wantFault(t, err, pb.Reason_ALREADY_EXISTS, "there is a clubs/moor/rides/r/rosters/1 already, and it stays as it is")
	err = b.refused(func(tx *ledger.Tx) error {
		return tx.AddDeclaration(&pb.Declaration{Name: declaration.Name, Revision: 1, CertifiedBy: "second"})
	})
	wantFault(t, err, pb.Reason_ALREADY_EXISTS,
		"there is a clubs/moor/members/ann/bikes/blue/declarations/1 already, and it stays as it is")
	b.read(func(tx *ledger.Tx) error {
		if got, err := tx.Roster("r", 1); err != nil || got.Zone != "first" {
			t.Errorf("got %v, %v", got, err)
		}
		return tx.Declarations("ann", "blue", 0, 0, func(got *pb.Declaration) error {
			if got.CertifiedBy != "first" {
				t.Errorf("got %v", got)
			}
			return nil
		})
	})
}

func TestNothingStaysOfAFailure(t *testing.T) {
	b := open(t)
	b.refused(func(tx *ledger.Tx) error {
		if err := tx.SaveMember(&pb.Member{Name: names.Member(club, "ann")}); err != nil {
			t.Error(err)
		}
		_, err := tx.Member("ben")
		return err
	})
	if keys, _ := b.keys(""); len(keys) != 0 {
		t.Errorf("left: %v", keys)
	}
}
