package roster

import (
	"crypto/sha256"
	"encoding/hex"

	"google.golang.org/protobuf/proto"

	pb "gritward/proto/gritward/v1"
)

// Basis is a digest of all that a placement rests on: ride, policy, sign-ups, members, declarations, care logs, and the
// recorded times that the plan is reckoned with.
func Basis(in Input) (string, error) {
	sum := sha256.New()
	var records []string
	digested := func(message proto.Message) error {
		digest, err := digestOf(message)
		records = append(records, digest)
		return err
	}
	ride := proto.Clone(in.Ride).(*pb.Ride)
	ride.Etag, ride.State, ride.RosterNumber = "", pb.Ride_STATE_UNSPECIFIED, 0
	if err := digested(ride); err != nil {
		return "", err
	}
	for _, entrant := range in.Entrants {
		digests, err := entrant.digests()
		if err != nil {
			return "", err
		}
		records = append(records, digests...)
		sum.Write([]byte(entrant.LastWetRideOn + "\x00"))
		if entrant.Absent {
			sum.Write([]byte("absent\x00"))
		}
	}
	for _, group := range in.Plan.GetGroups() {
		if group.PastTimes.GetUsed() {
			if err := digested(group.PastTimes); err != nil {
				return "", err
			}
		}
	}
	sum.Write([]byte(in.Policy.Digest()))
	for _, digest := range records {
		sum.Write([]byte(digest))
	}
	return hex.EncodeToString(sum.Sum(nil))[:32], nil
}

// digestOf is the SHA-256 of a message in deterministic encoding, hexadecimal.
func digestOf(message proto.Message) (string, error) {
	data, err := proto.MarshalOptions{Deterministic: true}.Marshal(message)
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:]), nil
}
