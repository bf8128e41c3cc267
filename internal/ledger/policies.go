package ledger

import (
	"fmt"

	"gritward/internal/fault"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// AddPolicy writes the next revision of the club's policy and gives it its number and name.
func (t *Tx) AddPolicy(revision *pb.PolicyRevision) error {
	revision.Number = 1
	err := t.Policies(func(newest *pb.PolicyRevision) error {
		revision.Number = newest.Number + 1
		return errStop
	})
	if err != nil {
		return err
	}
	revision.Name = names.Policy(t.Club, revision.Number)
	return t.save(policyKey(revision.Number), revision)
}

// Policy reads one revision.
func (t *Tx) Policy(number int32) (*pb.PolicyRevision, error) {
	return load(t, policyKey(number), names.Policy(t.Club, number), &pb.PolicyRevision{})
}

// Policies visits all revisions, newest first.
func (t *Tx) Policies(visit func(*pb.PolicyRevision) error) error {
	return eachDown(t, "policy/", "", func() *pb.PolicyRevision { return &pb.PolicyRevision{} }, visit)
}

// PolicyOn finds the revision in force on a day (YYYY-MM-DD): among those that count from that day or earlier the one
// that counts from the latest day; of several from one day the newest. NO_POLICY when there is none.
func (t *Tx) PolicyOn(day string) (*pb.PolicyRevision, error) {
	var best *pb.PolicyRevision
	err := t.Policies(func(revision *pb.PolicyRevision) error {
		if revision.EffectiveFrom <= day && (best == nil || revision.EffectiveFrom > best.EffectiveFrom) {
			best = revision
		}
		return nil
	})
	if err == nil && best == nil {
		err = fault.New(pb.Reason_NO_POLICY,
			"the club has no policy in force on %s; a secretary adopts one with: gritward policy adopt FILE", day)
	}
	return best, err
}

func policyKey(number int32) string { return fmt.Sprintf("policy/%08d", number) }
