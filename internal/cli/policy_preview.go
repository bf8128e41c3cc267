package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"gritward/internal/names"
	"gritward/internal/policy"
	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

func (a *app) policyPreview() *cobra.Command {
	cmd := &cobra.Command{
		Use: "preview FILE", Short: "Whom a policy file would affect if it were adopted; adopts nothing",
		Long: "Tells every bike in use, and every rider on a ride to come, whose standing would change: from what to what, and\n" +
			"by which rules. What was declared is not shown. Secretaries only.",
		Example: "  gritward policy preview winter.yaml --from 2026-12-01", Args: cobra.ExactArgs(1),
	}
	from := cmd.Flags().String("from", "", "first day for whose rides it would count, YYYY-MM-DD (default today)")
	most := cmd.Flags().Int32("most", 0, "most changes of each kind that are listed, up to 10000 (default 1000)")
	return a.online(cmd, func(s *session, args []string) error {
		effective, err := dateText("from", *from)
		if err != nil {
			return err
		}
		content, err := a.readFile(args[0], maxPolicyBytes)
		if err != nil {
			return err
		}
		if adoptable, problems := policy.Read(args[0], content); adoptable == nil {
			return a.fileProblems(args[0], problems)
		}
		done := a.progress("previewing " + args[0])
		defer done()
		answer, err := s.policies.PreviewPolicy(s.ctx, &pb.PreviewPolicyRequest{Parent: s.clubName(), File: baseName(args[0]),
			Content: content, EffectiveFrom: effective, Most: *most})
		done()
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			layPreview(p, answer)
			p.line("Nothing is adopted. Next: gritward policy adopt %s%s", args[0], prefixed(" --from ", effective))
		})
	})
}

func layPreview(p *page, answer *pb.PreviewPolicyResponse) {
	p.text(strictyaml.Format(answer.GetWarnings()))
	layChanges(p, "Bikes in use", "bike", standingChanges{answer.GetBikes(), answer.GetBikesSeen(), answer.GetBikesChanged()})
	layChanges(p, "Riders on rides to come, counted in each group", "rider's bike",
		standingChanges{answer.GetRiders(), answer.GetRidersSeen(), answer.GetRidersChanged()})
}

// standingChanges are the standings of one kind that would change, as many as are listed, and how many there are.
type standingChanges struct {
	listed        []*pb.StandingChange
	seen, changed int32
}

func layChanges(p *page, title, what string, changes standingChanges) {
	p.line("%s: %d looked at, %d would stand otherwise.", title, changes.seen, changes.changed)
	var rows [][]string
	for _, change := range changes.listed {
		where := change.GetGroup()
		if change.GetRide() != "" {
			where = names.Last(change.GetRide()) + ", " + where
		}
		rows = append(rows, []string{"  " + memberBike(change.GetBike()), where, word(change.GetFrom()), "->", word(change.GetTo()),
			strings.Join(change.GetRules(), ", ")})
	}
	if len(rows) > 0 {
		p.table([]string{"  " + what, "where", "now", "", "then", "by rule"}, rows)
	}
	if left := int(changes.changed) - len(rows); left > 0 && len(rows) > 0 {
		p.line("  and %s that are not listed; --most lists more", count(left, "change", "changes"))
	}
	p.line("")
}

// memberBike is a bike with its member, whoever asks.
func memberBike(name string) string {
	return fmt.Sprintf("%s/%s", names.Part(name, "members"), names.Part(name, "bikes"))
}
