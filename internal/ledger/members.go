package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"gritward/internal/fault"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// Found writes the record of a new club. ALREADY_EXISTS when there is one.
func (t *Tx) Found(club *pb.Club) error {
	if _, err := t.ClubRecord(); !fault.Is(err, pb.Reason_NOT_FOUND) {
		if err != nil {
			return err
		}
		return fault.New(pb.Reason_ALREADY_EXISTS, "there is a club %q in this store already", t.Club)
	}
	club.Name, club.CreatedAt = names.Club(t.Club), t.Stamp()
	if err := tag(club, func(c *pb.Club, etag string) { c.Etag = etag }); err != nil {
		return err
	}
	if err := t.index(); err != nil { // of nothing, so that all that comes is in the indexes
		return err
	}
	return t.save("club", club)
}

// ClubRecord reads the club.
func (t *Tx) ClubRecord() (*pb.Club, error) { return load(t, "club", names.Club(t.Club), &pb.Club{}) }

// Member reads a member by id.
func (t *Tx) Member(id string) (*pb.Member, error) {
	return load(t, "member/"+id, names.Member(t.Club, id), &pb.Member{})
}

// SaveMember writes a member under its name, with a new etag.
func (t *Tx) SaveMember(member *pb.Member) error {
	ids, err := t.ids(member.Name, names.MemberShape)
	if err != nil {
		return err
	}
	if err := tag(member, func(m *pb.Member, etag string) { m.Etag = etag }); err != nil {
		return err
	}
	var before []string
	if old, err := t.PeekMember(ids[1]); err == nil {
		before = memberKeys(old)
	} else if !fault.Is(err, pb.Reason_NOT_FOUND) {
		return err
	}
	if err := t.reindex(before, memberKeys(member)); err != nil {
		return err
	}
	return t.save("member/"+ids[1], member)
}

// Members visits members in the order of their ids, from the one after the id given; at most limit, 0: all.
func (t *Tx) Members(after string, limit int, visit func(*pb.Member) error) error {
	if after != "" {
		after = "member/" + after
	}
	return each(t, "member/", after, func() *pb.Member { return &pb.Member{} }, limited(limit, visit))
}

// limited stops a scan after so many records; 0: never.
func limited[T any](limit int, visit func(T) error) func(T) error {
	count := 0
	return func(record T) error {
		if limit > 0 && count == limit {
			return errStop
		}
		count++
		return visit(record)
	}
}

// SaveDevice writes a device and, while it is not revoked, the way from its token to it.
func (t *Tx) SaveDevice(record *pb.DeviceRecord) error {
	ids, err := t.ids(record.GetDevice().GetName(), names.DeviceShape)
	if err != nil {
		return err
	}
	index, err := hashKey("token/", record.TokenSha256)
	if err != nil {
		return err
	}
	key := "device/" + ids[1] + "/" + ids[2]
	if err := t.save(key, record); err != nil {
		return err
	}
	if record.Device.RevokedAt != nil {
		return t.tx.Delete(index)
	}
	return t.tx.Put(index, []byte(key))
}

// Device reads a device by its member's id and its own.
func (t *Tx) Device(member, id string) (*pb.DeviceRecord, error) {
	return load(t, "device/"+member+"/"+id, names.Device(t.Club, member, id), &pb.DeviceRecord{})
}

// Devices visits the devices of a member in the order of their ids.
func (t *Tx) Devices(member string, visit func(*pb.DeviceRecord) error) error {
	return each(t, "device/"+member+"/", "", func() *pb.DeviceRecord { return &pb.DeviceRecord{} }, visit)
}

// PeekDeviceByToken finds the device that a token belongs to; nil when it belongs to none, or to one that is revoked or has
// another token by now. Tokens are looked up by their hash, so that the time it takes says nothing about tokens that are
// good. The record is shared: it must not be changed.
func (t *Tx) PeekDeviceByToken(token string) (*pb.DeviceRecord, error) {
	sum := sha256.Sum256([]byte(token))
	key, err := t.tx.Get("token/" + hex.EncodeToString(sum[:]))
	if err != nil || key == nil {
		return nil, err
	}
	record, err := peekKept[pb.DeviceRecord](t, string(key))
	if err != nil || record == nil {
		return nil, err
	}
	if !bytes.Equal(record.TokenSha256, sum[:]) || record.GetDevice().GetRevokedAt() != nil {
		return nil, nil
	}
	return record, nil
}

// SaveInvite writes an invite under the hash of its code. The code itself is refused: it must not come to lie there.
func (t *Tx) SaveInvite(record *pb.InviteRecord) error {
	if _, err := t.ids(record.GetInvite().GetName(), names.InviteShape); err != nil {
		return err
	}
	if record.Invite.Code != "" || record.Invite.Handover != "" {
		return fmt.Errorf("ledger: %s cannot be saved with its code; only the code's hash is kept", record.Invite.Name)
	}
	key, err := hashKey("invite/", record.CodeSha256)
	if err != nil {
		return err
	}
	return t.save(key, record)
}

// Invites visits every invite, in no order that means anything.
func (t *Tx) Invites(visit func(*pb.InviteRecord) error) error {
	return each(t, "invite/", "", func() *pb.InviteRecord { return &pb.InviteRecord{} }, visit)
}

// InviteByCode finds the invite of a code; nil when there is none.
func (t *Tx) InviteByCode(code string) (*pb.InviteRecord, error) {
	sum := sha256.Sum256([]byte(code))
	record, err := load(t, "invite/"+hex.EncodeToString(sum[:]), "invite", &pb.InviteRecord{})
	if fault.Is(err, pb.Reason_NOT_FOUND) {
		return nil, nil
	}
	return record, err
}
