package roster

import (
	"crypto/sha256"
	"encoding/hex"

	"google.golang.org/protobuf/proto"
)

// basis is a digest of all that a placement rests on: ride, policy, sign-ups, members and declarations.
func basis(in Input) (string, error) {
	sum := sha256.New()
	records := []proto.Message{in.Ride}
	for _, entrant := range in.Entrants {
		records = append(records, entrant.Member, entrant.Bike, entrant.Signup)
	}
	sum.Write([]byte(in.Policy.Digest()))
	for _, record := range records {
		digest, err := digestOf(record)
		if err != nil {
			return "", err
		}
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
