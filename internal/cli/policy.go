package cli

import (
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"gritward/internal/names"
	"gritward/internal/phrase"
	"gritward/internal/policy"
	"gritward/internal/strictyaml"
	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

func (a *app) policy() *cobra.Command {
	group := &cobra.Command{
		Use: "policy", Short: "Check, adopt and read the club's policy",
		Example: "  gritward policy example > winter.yaml\n  gritward policy check winter.yaml\n  gritward policy adopt winter.yaml --from 2026-10-01",
	}
	group.AddCommand(a.policyExample(), a.policyCheck(), a.policyPreview(), a.policyAdopt(), a.policyShow(), a.policyHistory(),
		a.policyCompare(), a.policyRestore())
	return a.asGroup(group)
}

func (a *app) policyExample() *cobra.Command {
	cmd := &cobra.Command{
		Use: "example", Short: "Print a whole policy file to begin with, which explains itself (no server needed)",
		Example: "  gritward policy example > winter.yaml", Args: cobra.NoArgs,
	}
	return a.offline(cmd, func([]string) error {
		if a.json {
			return a.answer(&pb.PolicyRevision{File: "winter.yaml", Text: string(policyfile.Winter), Digest: policy.Digest(policyfile.Winter)}, nil)
		}
		_, err := a.io.Out.Write(policyfile.Winter)
		return err
	})
}

func (a *app) policyCheck() *cobra.Command {
	cmd := &cobra.Command{
		Use: "check FILE", Short: "Say what is wrong with a policy file (no server needed)",
		Long: "Reads the file as the server would, and tells every problem with its line and column. A warning leaves the\n" +
			"file usable. - reads standard input. Ends with 1 when the file cannot be adopted.",
		Example: "  gritward policy check winter.yaml", Args: cobra.ExactArgs(1),
	}
	return a.offline(cmd, func(args []string) error {
		content, err := a.readFile(args[0], maxPolicyBytes)
		if err != nil {
			return err
		}
		_, problems := policy.Read(args[0], content)
		usable := !slices.ContainsFunc(problems, func(problem *pb.Problem) bool {
			return problem.GetSeverity() == pb.Problem_ERROR
		})
		answer := &pb.CheckPolicyResponse{Problems: problems, Digest: policy.Digest(content), Usable: usable}
		if err := a.answer(answer, func(p *page) { layCheck(p, args[0], answer) }); err != nil {
			return err
		}
		if !usable {
			return silentError{}
		}
		return nil
	})
}

func layCheck(p *page, path string, answer *pb.CheckPolicyResponse) {
	p.text(strictyaml.Format(answer.GetProblems()))
	errs := 0
	for _, problem := range answer.GetProblems() {
		if problem.GetSeverity() == pb.Problem_ERROR {
			errs++
		}
	}
	warnings := len(answer.GetProblems()) - errs
	switch {
	case errs > 0:
		p.line("%s: %s, %s; it cannot be adopted", path, count(errs, "error", "errors"),
			count(warnings, "warning", "warnings"))
	case warnings > 0:
		p.line("%s: can be adopted, with %s", path, count(warnings, "warning", "warnings"))
	default:
		p.line("%s: nothing wrong", path)
	}
}

func (a *app) policyAdopt() *cobra.Command {
	cmd := &cobra.Command{
		Use: "adopt FILE", Short: "Adopt a policy file for the club, from a day on",
		Long: "The file counts for rides from that day on, until a policy from a later day follows, and is kept for ever with\n" +
			"who adopted it, when and why. One adopted for the same day takes its place: so one that waits is taken back.\n" +
			"Secretaries only.",
		Example: "  gritward policy adopt winter.yaml --from 2026-10-01 --note \"committee of 14 September\"",
		Args:    cobra.ExactArgs(1),
	}
	from := cmd.Flags().String("from", "", "first day for whose rides it counts, YYYY-MM-DD (default today)")
	note := cmd.Flags().String("note", "", "why, up to 500 characters")
	return a.online(cmd, func(s *session, args []string) error {
		content, err := a.readFile(args[0], maxPolicyBytes)
		if err != nil {
			return err
		}
		effective, err := dateText("from", *from)
		if err != nil {
			return err
		}
		if adoptable, problems := policy.Read(args[0], content); adoptable == nil {
			return a.fileProblems(args[0], problems)
		}
		answer, err := s.policies.AdoptPolicy(s.ctx, &pb.AdoptPolicyRequest{Parent: s.clubName(), File: baseName(args[0]),
			Content: content, EffectiveFrom: effective, Note: *note, RequestId: requestID()})
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			p.para(0, "Policy %d adopted: it counts %s.%s", answer.GetNumber(), phrase.PolicyTerm(answer), phrase.InPlaceOf(answer))
		})
	})
}

func (a *app) policyShow() *cobra.Command {
	cmd := &cobra.Command{
		Use: "show [NUMBER]", Short: "The policy in force today, or the one of that number, as it was adopted",
		Example: "  gritward policy show\n  gritward policy show 3 > winter.yaml", Args: cobra.MaximumNArgs(1),
	}
	return a.online(cmd, func(s *session, args []string) error {
		which := s.clubName() + "/policies/" + names.Any
		if len(args) == 1 {
			var err error
			if which, err = s.policyName(args[0]); err != nil {
				return err
			}
		}
		zone, err := s.zone()
		if err != nil {
			return err
		}
		answer, err := s.policies.GetPolicy(s.ctx, &pb.GetPolicyRequest{Name: which})
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			layFolder(p, "# ", answer.GetFolderProblems())
			p.line("# policy %d, adopted %s by %s, counts %s", answer.GetNumber(), when(answer.GetAdoptedAt(), zone),
				s.ref(answer.GetAdoptedBy()), phrase.PolicyTerm(answer))
			if answer.GetNote() != "" {
				p.line("# %s", answer.GetNote())
			}
			p.text(answer.GetText())
		})
	})
}

func (a *app) policyHistory() *cobra.Command {
	cmd := &cobra.Command{
		Use: "history", Short: "Every policy that the club adopted, newest first",
		Example: "  gritward policy history", Args: cobra.NoArgs,
	}
	return a.online(cmd, func(s *session, _ []string) error {
		zone, err := s.zone()
		if err != nil {
			return err
		}
		answer, err := s.policies.ListPolicies(s.ctx, &pb.ListPoliciesRequest{Parent: s.clubName()})
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			layFolder(p, "", answer.GetFolderProblems())
			var rows [][]string
			for _, adopted := range answer.GetPolicies() {
				rows = append(rows, []string{fmt.Sprint(adopted.GetNumber()), adopted.GetEffectiveFrom(), phrase.PolicyLastDay(adopted),
					when(adopted.GetAdoptedAt(), zone), s.ref(adopted.GetAdoptedBy()), adopted.GetFile(), adopted.GetNote()})
			}
			p.list("no policy was adopted yet: gritward policy adopt FILE",
				[]string{"policy", "counts from", "to", "adopted", "by", "file", "note"}, rows)
		})
	})
}
