package server

import (
	"time"

	"gritward/internal/civil"
	"gritward/internal/ledger"
	pb "gritward/proto/gritward/v1"
)

// revisions are all policies of the club, newest first, without their text.
func revisions(tx *ledger.Tx) (all []*pb.PolicyRevision, err error) {
	err = tx.Policies(func(revision *pb.PolicyRevision) error {
		all = append(all, revision)
		return nil
	})
	return all, err
}

// term fills in until when a revision counts, and what comes after it or in its place.
func term(tx *ledger.Tx, revision *pb.PolicyRevision) error {
	all, err := revisions(tx)
	if err == nil {
		setTerm(revision, all)
	}
	return err
}

// setTerm is term among all the revisions there are. What counts on a day is told by ledger.PolicyOn: the revision from
// the latest day, and of several from one day the newest.
func setTerm(revision *pb.PolicyRevision, all []*pb.PolicyRevision) {
	var next *pb.PolicyRevision
	for _, other := range all { // newest first
		switch {
		case other.EffectiveFrom > revision.EffectiveFrom:
			if next == nil || other.EffectiveFrom < next.EffectiveFrom {
				next = other
			}
		case other.EffectiveFrom < revision.EffectiveFrom:
		case other.Number > revision.Number && revision.ReplacedBy == 0:
			revision.ReplacedBy = other.Number
		case other.Number < revision.Number && revision.Replaces == 0:
			revision.Replaces = other.Number
		}
	}
	if next == nil || revision.ReplacedBy > 0 {
		return
	}
	if day, err := time.Parse(civil.DateLayout, next.EffectiveFrom); err == nil {
		revision.EffectiveUntil, revision.FollowedBy = day.AddDate(0, 0, -1).Format(civil.DateLayout), next.Number
	}
}
