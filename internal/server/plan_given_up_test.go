package server_test

import (
	"errors"
	"strings"
	"testing"

	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/policy"
	"gritward/internal/server"
	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

// TestPlanUnderPolicyGivenUp: a commit that came too late leaves no plan behind that counts for the policy which got the number instead.
func TestPlanUnderPolicyGivenUp(t *testing.T) {
	w, ride := pinned(t)
	planned, tooLate := server.Planner(w.ledger), errors.New("another server was faster")
	for _, step := range []struct {
		title string
		ends  error
	}{{"Ours", tooLate}, {"Theirs", nil}} {
		text := strings.Replace(string(policyfile.Winter), "\ntitle: ", "\ntitle: "+step.title+" ", 1)
		read, problems := policy.Read("winter.yaml", []byte(text))
		if read == nil {
			t.Fatal(problems)
		}
		got := ""
		err := w.ledger.Update(w.ctx, names.Last(club), func(tx *ledger.Tx) error {
			if err := tx.AddPolicy(&pb.PolicyRevision{Digest: read.Digest(), EffectiveFrom: "2026-12-11", File: "winter.yaml", Text: text}); err != nil {
				return err
			}
			plan, err := planned(tx, names.Last(ride.Name))
			if err != nil {
				return err
			}
			got = plan.PolicyTitle
			return step.ends
		})
		if !errors.Is(err, step.ends) || got != read.Title() || !strings.HasPrefix(got, step.title) {
			t.Errorf("planned under %q, %v; the policy is %q", got, err, read.Title())
		}
	}
}
