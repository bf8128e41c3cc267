package ledger

import (
	"strconv"

	"gritward/internal/fault"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// AddPolicy writes the next revision of the club's policy and gives it its number and name. Its text has a record of its
// own, so that finding the revision in force does not read the files of all the others.
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
	text := revision.Text
	revision.Text = ""
	err = t.save(policyKey(revision.Number), revision)
	revision.Text = text
	if err != nil {
		return err
	}
	before, err := t.ruledFrom()
	if err != nil {
		return err
	}
	if err := t.reindex(nil, []string{policyDayKey(revision)}); err != nil {
		return err
	}
	after, err := t.ruledFrom()
	if err != nil {
		return err
	}
	if err := t.move(ruledDue(before), ruledDue(after)); err != nil {
		return err
	}
	return t.tx.Put(policyTextKey(revision.Number), []byte(text))
}

// Policy reads one revision with its text.
func (t *Tx) Policy(number int32) (*pb.PolicyRevision, error) {
	revision, err := load(t, policyKey(number), names.Policy(t.Club, number), &pb.PolicyRevision{})
	if err != nil {
		return revision, err
	}
	return revision, t.PolicyText(revision)
}

// PolicyText adds to a revision its text.
func (t *Tx) PolicyText(revision *pb.PolicyRevision) error {
	text, err := t.tx.Get(policyTextKey(revision.Number))
	if err == nil && text != nil { // a record written before texts had their own holds it itself
		revision.Text = string(text)
	}
	return err
}

// Policies visits all revisions, newest first, without their text.
func (t *Tx) Policies(visit func(*pb.PolicyRevision) error) error {
	return eachDown(t, "policy/", "", func() *pb.PolicyRevision { return &pb.PolicyRevision{} }, visit)
}

// PolicyOn finds the revision in force on a day (YYYY-MM-DD): among those that count from that day or earlier the one
// that counts from the latest day; of several from one day the newest. It comes without its text. NO_POLICY when there is
// none.
func (t *Tx) PolicyOn(day string) (*pb.PolicyRevision, error) {
	number, err := t.policyNumberOn(day)
	if err != nil {
		return nil, err
	}
	return load(t, policyKey(number), names.Policy(t.Club, number), &pb.PolicyRevision{})
}

// policyNumberOn is the number of the revision that PolicyOn finds.
func (t *Tx) policyNumberOn(day string) (best int32, err error) {
	indexed, err := t.indexed()
	if err != nil {
		return 0, err
	}
	from := ""
	if indexed {
		if err := t.tx.ScanDown(policyDays, policyDays+day+"0", func(key string, _ []byte) (bool, error) { // "0" comes after "/"
			number, err := strconv.ParseInt(names.Last(key), 10, 32)
			best = int32(number)
			return false, err
		}); err != nil {
			return 0, err
		}
	} else {
		if err := t.Policies(func(revision *pb.PolicyRevision) error {
			if revision.EffectiveFrom <= day && revision.EffectiveFrom > from {
				best, from = revision.Number, revision.EffectiveFrom
			}
			return nil
		}); err != nil {
			return 0, err
		}
	}
	if best == 0 {
		return 0, fault.New(pb.Reason_NO_POLICY,
			"the club has no policy in force on %s; a secretary adopts one with: gritward policy adopt FILE", day)
	}
	return best, nil
}

func policyKey(number int32) string     { return numbered("policy/", int64(number), 8) }
func policyTextKey(number int32) string { return numbered("policy-text/", int64(number), 8) }
