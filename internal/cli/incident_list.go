package cli

import (
	"github.com/spf13/cobra"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

func (a *app) incidentList() *cobra.Command {
	cmd := &cobra.Command{
		Use: "list", Short: "The incidents that you may read, for short",
		Example: "  gritward incident list\n  gritward incident list --not-reported", Args: cobra.NoArgs,
	}
	open := cmd.Flags().Bool("not-reported", false, "only those still to be reported to the insurer")
	return a.online(cmd, func(s *session, _ []string) error {
		zone, err := s.zone()
		if err != nil {
			return err
		}
		incidents, err := allPages(func(token string) ([]*pb.IncidentSummary, string, error) {
			answer, err := s.incidents.ListIncidents(s.ctx,
				&pb.ListIncidentsRequest{Parent: s.clubName(), NotReported: *open, PageSize: pageSize, PageToken: token})
			return answer.GetIncidents(), answer.GetNextPageToken(), err
		})
		if err != nil {
			return err
		}
		return a.answer(&pb.ListIncidentsResponse{Incidents: incidents}, func(p *page) {
			var rows [][]string
			for _, one := range incidents {
				rows = append(rows, []string{incidentRef(one.GetName()), when(one.GetHappenedAt(), zone), one.GetRideTitle(), word(one.GetKind()), phrase.Insurer(one), one.GetKeptUntil()})
			}
			p.list("none", []string{"incident", "when", "ride", "what", "insurer", "kept until"}, rows)
		})
	})
}

func (a *app) incidentAdd() *cobra.Command {
	cmd := &cobra.Command{
		Use: "add INCIDENT", Short: "Add to a record; nothing in it is changed",
		Example: "  gritward incident add 2026-12-13-moors/1 --what \"It was the rear wheel.\" --photo wheel.jpg", Args: cobra.ExactArgs(1),
	}
	what := cmd.Flags().String("what", "", "what to add or put right, in words")
	photographs := cmd.Flags().StringArray("photo", nil, "file name of a photograph (repeat)")
	return a.online(cmd, func(s *session, args []string) error {
		name, err := s.incidentName(args[0])
		if err != nil {
			return err
		}
		added, err := s.incidents.AmendIncident(s.ctx, &pb.AmendIncidentRequest{Name: name, Text: *what, Photographs: *photographs, RequestId: requestID()})
		if err != nil {
			return err
		}
		return a.answer(added, func(p *page) { p.line("Added to %s.", incidentRef(name)) })
	})
}

func (a *app) incidentReported() *cobra.Command {
	cmd := &cobra.Command{
		Use: "reported INCIDENT", Short: "Say that it was reported to the insurer, or need not be",
		Long: "Until then every command reminds secretaries of it. The report itself goes by the insurer's own form.",
		Example: "  gritward incident reported 2026-12-13-moors/1 --on 2026-12-15 --note \"reference M/114\"\n" +
			"  gritward incident reported 2026-12-13-moors/2 --need-not --note \"nothing came of it\"",
		Args: cobra.ExactArgs(1),
	}
	on := cmd.Flags().String("on", "", "day on which it was reported: 2026-12-15")
	not := cmd.Flags().Bool("need-not", false, "it need not be reported")
	note := cmd.Flags().String("note", "", "the insurer's reference, or why it need not be reported")
	return a.online(cmd, func(s *session, args []string) error {
		name, err := s.incidentName(args[0])
		if err != nil {
			return err
		}
		day, err := dateText("on", *on)
		if err != nil {
			return err
		}
		summary, err := s.incidents.MarkReported(s.ctx, &pb.MarkReportedRequest{Name: name, ReportedOn: day, NeedNotBe: *not, Note: *note})
		if err != nil {
			return err
		}
		return a.answer(summary, func(p *page) { p.line("%s: %s.", incidentRef(name), phrase.Insurer(summary)) })
	})
}

// tellUnreported reminds a secretary, after any command, of incidents still to be reported. What goes wrong with that is not
// the command's; err is what came of it.
func (s *session) tellUnreported(err error) {
	if s.json || err != nil && !answered(err) {
		return
	}
	if _, err := s.me(); err != nil || !s.may(pb.Role_SECRETARY) {
		return
	}
	const most = 3
	answer, err := s.incidents.ListIncidents(s.ctx, &pb.ListIncidentsRequest{Parent: s.clubName(), NotReported: true, PageSize: most})
	if err != nil {
		return
	}
	for _, one := range answer.GetIncidents() {
		s.say("insurer: incident %s is %s; then gritward incident reported %s", incidentRef(one.GetName()), phrase.Insurer(one), incidentRef(one.GetName()))
	}
	if answer.GetNextPageToken() != "" {
		s.say("insurer: there are more; see gritward incident list --not-reported")
	}
}
