package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"gritward/internal/fault"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// SaveShare writes the link that opens a ride's roster under the hash of its key, in place of one made before. The key itself
// is refused: it must not come to lie there.
func (t *Tx) SaveShare(record *pb.ShareRecord) error {
	ids, err := t.ids(record.GetShare().GetName(), names.ShareShape)
	if err != nil {
		return err
	}
	if record.Share.Key != "" || record.Share.PageUrl != "" {
		return fmt.Errorf("ledger: %s cannot be saved with its key; only the key's hash is kept", record.Share.Name)
	}
	key, err := hashKey("share/", record.KeySha256)
	if err != nil {
		return err
	}
	if err := t.DropShare(ids[1]); err != nil {
		return err
	}
	return t.save(key, record)
}

// DropShare takes away the link that opens a ride's roster, if there is one.
func (t *Tx) DropShare(ride string) error {
	keys, err := t.shareKeys(map[string]bool{ride: true})
	for _, key := range keys {
		if err == nil {
			err = t.tx.Delete(key)
		}
	}
	return err
}

// ShareOf is the link that opens a ride's roster; nil when there is none.
func (t *Tx) ShareOf(ride string) (*pb.RosterShare, error) {
	var found *pb.RosterShare
	err := each(t, "share/", "", newShare, func(record *pb.ShareRecord) error {
		if rideOfShare(record) == ride {
			found = record.Share
		}
		return nil
	})
	return found, err
}

// ShareByKey finds the link of a key; nil when there is none. Links are looked up by the hash, so that the time it takes says
// nothing about keys that are good.
func (t *Tx) ShareByKey(key string) (*pb.RosterShare, error) {
	sum := sha256.Sum256([]byte(key))
	record, err := load(t, "share/"+hex.EncodeToString(sum[:]), "share", newShare())
	if fault.Is(err, pb.Reason_NOT_FOUND) {
		return nil, nil
	}
	return record.GetShare(), err
}

func newShare() *pb.ShareRecord { return &pb.ShareRecord{} }

func rideOfShare(record *pb.ShareRecord) string {
	return names.Part(record.GetShare().GetName(), "rides")
}

// shareKeys are the keys of the links to rosters of rides that are meant.
func (t *Tx) shareKeys(meant map[string]bool) ([]string, error) {
	return forRides(t, "share/", newShare, rideOfShare, meant)
}
