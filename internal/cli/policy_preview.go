package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"gritward/internal/names"
	"gritward/internal/phrase"
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
		if !a.json {
			if _, err := s.allBikes(names.Member(s.set.Club(), names.Any)); err != nil { // what they are called
				return err
			}
		}
		return a.answer(answer, func(p *page) {
			layPreview(p, answer, s.memberBike)
			p.line("Nothing is adopted. Next: gritward policy adopt %s%s", args[0], prefixed(" --from ", effective))
		})
	})
}

// layPreview writes whom a policy would change. short is what to type for a bike.
func layPreview(p *page, answer *pb.PreviewPolicyResponse, short func(bike string) string) {
	p.text(strictyaml.Format(answer.GetWarnings()))
	bikes := phrase.Changes(answer.GetBikes())
	p.line("Bikes in use: %d looked at, %d would stand otherwise.", answer.GetBikesSeen(), answer.GetBikesChanged())
	layChanges(p, "bike", bikes, short)
	listed := map[string]bool{}
	for _, change := range bikes {
		listed[change.Bike] = true
	}
	if left := int(answer.GetBikesChanged()) - len(listed); left > 0 {
		p.line("  %s not listed; --most lists more", isOrAre(left))
	}
	p.line("")
	p.line("Riders on rides to come, in each group: %d looked at, %d would stand otherwise.", answer.GetRidersSeen(), answer.GetRidersChanged())
	riders := phrase.Changes(answer.GetRiders())
	for from := 0; from < len(riders); {
		to := from + 1
		for to < len(riders) && riders[to].Ride == riders[from].Ride {
			to++
		}
		p.line("  Ride %s", names.Last(riders[from].Ride))
		layChanges(p, "rider's bike", riders[from:to], short)
		from = to
	}
	if left := int(answer.GetRidersChanged()) - len(answer.GetRiders()); left > 0 {
		p.line("  %s not listed; --most lists more", isOrAre(left))
	}
	p.line("")
	if tally := phrase.ByRule(append(bikes, riders...)); tally != "" {
		p.para(0, "Rules that do it, by changes listed: %s", tally)
		p.line("")
	}
}

func isOrAre(n int) string {
	if n == 1 {
		return "1 more is"
	}
	return fmt.Sprintf("%d more are", n)
}

func layChanges(p *page, what string, changes []phrase.Change, short func(bike string) string) {
	var rows [][]string
	for _, change := range changes {
		rows = append(rows, []string{"  " + short(change.Bike), strings.Join(change.Groups, ", "), word(change.From), "->", word(change.To),
			strings.Join(change.Rules, ", ")})
	}
	if len(rows) > 0 {
		p.table([]string{"  " + what, "where", "now", "", "then", "by rule"}, rows)
	}
}
