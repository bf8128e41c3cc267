package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

func (a *app) rideTold() *cobra.Command {
	cmd := &cobra.Command{
		Use: "told RIDE", Short: "Who was told of a ride by e-mail, and who was not",
		Long: "The server writes to those on a ride who gave an e-mail address: when an issue of the roster is published, when a\n" +
			"place comes free, and when the ride is called off. A mail server that takes a letter need not deliver it.",
		Example: "  gritward ride told 2026-12-13-moors", Args: cobra.ExactArgs(1),
	}
	return a.online(cmd, func(s *session, args []string) error {
		zone, err := s.zone()
		if err != nil {
			return err
		}
		ride, err := s.rideName(args[0])
		if err != nil {
			return err
		}
		answer, err := s.rides.ListLetters(s.ctx, &pb.ListLettersRequest{Parent: ride})
		if err != nil {
			return s.withRides(err)
		}
		return a.answer(answer, func(p *page) {
			if !answer.GetMailServer() {
				p.line("The server is set up without a mail server: nobody is written to. Tell people yourself.")
			}
			var rows [][]string
			for _, letter := range answer.GetLetters() {
				at := when(letter.GetSentAt(), zone)
				if letter.GetState() == pb.Letter_QUEUED {
					at = "next " + when(letter.GetNextTryAt(), zone)
				}
				rows = append(rows, []string{names.Last(letter.GetName()), nameOr(letter.GetDisplayName(), letter.GetMember()), letterWords(letter),
					word(letter.GetState()), at, fmt.Sprint(letter.GetTries()), letter.GetRefusal()})
			}
			p.list("no letters yet", []string{"", "to", "about", "state", "when", "tries", "not taken since"}, rows)
		})
	})
}

// nameOr is a name as the club shows it, or the id of the member.
func nameOr(name, member string) string {
	if name != "" {
		return name
	}
	return names.Last(member)
}

func letterWords(letter *pb.Letter) string {
	switch letter.GetKind() {
	case pb.Letter_ROSTER:
		return fmt.Sprintf("issue %d", letter.GetIssue())
	case pb.Letter_CALLED_OFF:
		return "called off"
	case pb.Letter_PLACE_CAME_FREE:
		return "a place came free"
	case pb.Letter_OVERDUE:
		return "overdue"
	}
	return word(letter.GetKind())
}
