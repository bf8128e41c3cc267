package ledger_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"os"
	"testing"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

const token = "moor.QF7ZK2N6XW3LTBHVJ5RDPYAC4M"

func (b *book) byToken(token string) (found *pb.DeviceRecord) {
	b.Helper()
	b.read(func(tx *ledger.Tx) (err error) {
		found, err = tx.PeekDeviceByToken(token)
		return err
	})
	return found
}

func phone(token string) *pb.DeviceRecord {
	return &pb.DeviceRecord{Device: &pb.Device{Name: names.Device(club, "ann", "phone")}, TokenSha256: sum(token)}
}

func TestPeekDeviceByToken(t *testing.T) {
	b := open(t)
	b.write(func(tx *ledger.Tx) error { return tx.SaveDevice(phone(token)) })
	if got := b.byToken(token); got.GetDevice().GetName() != "clubs/moor/members/ann/devices/phone" {
		t.Errorf("got %v", got)
	}
	for _, other := range []string{"", token[:len(token)-1], token + " ", string(sum(token)), hex.EncodeToString(sum(token)), "\xff"} {
		if got := b.byToken(other); got != nil {
			t.Errorf("%q finds %v", other, got)
		}
	}
	err := b.ledger.View(t.Context(), "fen", func(tx *ledger.Tx) error {
		if got, err := tx.PeekDeviceByToken(token); got != nil || err != nil {
			t.Errorf("another club finds %v, %v", got, err)
		}
		return nil
	})
	if err != nil {
		t.Error(err)
	}
}

func TestRevokedDevice(t *testing.T) {
	b := open(t)
	b.write(func(tx *ledger.Tx) error { return tx.SaveDevice(phone(token)) })
	revoked := phone(token)
	revoked.Device.RevokedAt = timestamppb.New(b.now)
	b.write(func(tx *ledger.Tx) error { return tx.SaveDevice(revoked) })
	if got := b.byToken(token); got != nil {
		t.Errorf("got %v", got)
	}
	b.read(func(tx *ledger.Tx) error { // the device is still listed
		got, err := tx.Device("ann", "phone")
		if err == nil && got.Device.RevokedAt == nil {
			t.Errorf("got %v", got)
		}
		return err
	})
	if keys, _ := b.keys("token/"); len(keys) != 0 {
		t.Errorf("left: %v", keys)
	}
}

// The way from a token is good only while the device at its end says so.
func TestWaysThatLeadAstray(t *testing.T) {
	index := "token/" + hex.EncodeToString(sum(token))
	revoked := phone(token)
	revoked.Device.RevokedAt = timestamppb.New(open(t).now)
	for name, at := range map[string]*pb.DeviceRecord{"nowhere": nil, "to a device of another token": phone("moor.other"), "to a revoked device": revoked} {
		t.Run(name, func(t *testing.T) {
			b := open(t)
			if at != nil {
				data, err := proto.Marshal(at)
				if err != nil {
					t.Fatal(err)
				}
				b.raw("device/ann/phone", data)
			}
			b.raw(index, []byte("device/ann/phone"))
			if got := b.byToken(token); got != nil {
				t.Errorf("got %v", got)
			}
		})
	}
	t.Run("to a damaged device", func(t *testing.T) {
		b := open(t)
		b.raw("device/ann/phone", []byte("\xff\xff\xff"))
		b.raw(index, []byte("device/ann/phone"))
		wantDamaged(t, b.refused(func(tx *ledger.Tx) error {
			_, err := tx.PeekDeviceByToken(token)
			return err
		}), "device/ann/phone")
	})
	t.Run("a new token puts out the old", func(t *testing.T) {
		b := open(t)
		b.write(func(tx *ledger.Tx) error { return tx.SaveDevice(phone(token)) })
		b.write(func(tx *ledger.Tx) error { return tx.SaveDevice(phone("moor.next")) })
		if b.byToken(token) != nil || b.byToken("moor.next") == nil {
			t.Error("the old token is good, or the new one is not")
		}
	})
}

// Neither a token nor an invite's code is anywhere in the file; their hashes are.
func TestSecretsAreNotInTheFile(t *testing.T) {
	b := open(t)
	const code = "moor.INVITECODE7ZK2N6XW3LTBHV"
	b.write(func(tx *ledger.Tx) error {
		if err := tx.SaveDevice(phone(token)); err != nil {
			return err
		}
		if err := tx.SaveInvite(&pb.InviteRecord{Invite: &pb.Invite{Name: names.Invite(club, "i1")}, CodeSha256: sum(code)}); err != nil {
			return err
		}
		if _, err := tx.PeekDeviceByToken(token); err != nil {
			return err
		}
		_, err := tx.InviteByCode(code)
		return err
	})
	var file []byte
	for _, ending := range []string{"", ".journal"} {
		data, err := os.ReadFile(b.path + ending)
		if err != nil {
			t.Fatal(err)
		}
		file = append(file, data...)
	}
	for _, secret := range []string{token, token[5:], code, code[5:]} {
		if bytes.Contains(file, []byte(secret)) {
			t.Errorf("%q is in the file", secret)
		}
		if hash := sha256.Sum256([]byte(secret)); (secret == token || secret == code) && !bytes.Contains(file, hash[:]) {
			t.Errorf("the hash of %q is not in the file: was the right file read?", secret)
		}
	}
}
