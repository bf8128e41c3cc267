package cli

import (
	"github.com/spf13/cobra"

	"gritward/internal/names"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

func (a *app) policyCompare() *cobra.Command {
	cmd := &cobra.Command{
		Use: "compare EARLIER LATER", Short: "What differs between two adopted policies, rule by rule",
		Example: "  gritward policy compare 1 2", Args: cobra.ExactArgs(2),
	}
	return a.online(cmd, func(s *session, args []string) error {
		earlier, err := s.policyName(args[0])
		if err != nil {
			return err
		}
		later, err := s.policyName(args[1])
		if err != nil {
			return err
		}
		answer, err := s.policies.ComparePolicies(s.ctx, &pb.ComparePoliciesRequest{Name: earlier, Other: later})
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			if len(answer.GetDifferences()) == 0 {
				p.line("Policies %s and %s have the same rules and settings.", args[0], args[1])
			}
			for _, difference := range answer.GetDifferences() {
				layDifference(p, difference)
			}
		})
	})
}

// layDifference writes one difference: "rule guards, need.rear: half -> full".
func layDifference(p *page, d *pb.PolicyDifference) {
	what := "setting"
	if d.GetRule() != "" {
		what = "rule " + d.GetRule()
	}
	if d.GetPath() != "" {
		what += ", " + d.GetPath()
	}
	absent := func(text string) string {
		if text == "" {
			return "(not stated)"
		}
		return text
	}
	switch d.GetKind() {
	case pb.PolicyDifference_ADDED:
		p.line("added    %s%s", what, prefixed(": ", d.GetAfter()))
	case pb.PolicyDifference_REMOVED:
		p.line("removed  %s%s", what, prefixed(": ", d.GetBefore()))
	case pb.PolicyDifference_MOVED:
		p.line("moved    %s", what)
	default:
		p.line("changed  %s: %s -> %s", what, absent(d.GetBefore()), absent(d.GetAfter()))
	}
}

func (a *app) policyRestore() *cobra.Command {
	cmd := &cobra.Command{
		Use: "restore NUMBER", Short: "Adopt an earlier policy again, as a new one",
		Long: "The history stays as it is: the earlier text is adopted anew, with a number of its own. Secretaries only.",
		Example: "  gritward policy restore 1 --note \"the new rule kept too many at home\"\n" +
			"  gritward policy restore 1 --from 2027-01-01",
		Args: cobra.ExactArgs(1),
	}
	from := cmd.Flags().String("from", "", "first day for whose rides it counts, YYYY-MM-DD (default today)")
	note := cmd.Flags().String("note", "", "why, up to 500 characters")
	return a.online(cmd, func(s *session, args []string) error {
		name, err := s.policyName(args[0])
		if err != nil {
			return err
		}
		effective, err := dateText("from", *from)
		if err != nil {
			return err
		}
		answer, err := s.policies.RestorePolicy(s.ctx, &pb.RestorePolicyRequest{Name: name, EffectiveFrom: effective, Note: *note,
			RequestId: requestID()})
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			p.para(0, "Policy %d adopted: it is policy %s again, and counts %s.%s", answer.GetNumber(), names.Last(name),
				phrase.PolicyTerm(answer), phrase.InPlaceOf(answer))
		})
	})
}
