package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	pb "gritward/proto/gritward/v1"
)

func (a *app) careDue() *cobra.Command {
	cmd := &cobra.Command{
		Use: "due [BIKE]", Short: "What is due on your bikes, or on one, and why",
		Long: "Most pressing first. What a wear limit rests on is told too: kilometres come from rides that you were marked\n" +
			"home from. A projection is a guess from few readings; measure before you trust it.",
		Example: "  gritward care due\n  gritward care due blue-winter-bike --ahead 60", Args: cobra.MaximumNArgs(1),
	}
	ahead := cmd.Flags().Int32("ahead", 0, "days to look ahead, up to 400 (default 28)")
	member := cmd.Flags().String("member", "", "another member's bikes (secretaries)")
	later := cmd.Flags().Bool("later", false, "what is not due yet, too")
	return a.online(cmd, func(s *session, args []string) error {
		if _, err := s.me(); err != nil { // tells which bikes are the caller's own
			return err
		}
		parent, err := s.memberName(*member)
		if err == nil && len(args) == 1 {
			parent, err = s.bikeName(args[0], *member)
		}
		if err != nil {
			return err
		}
		answer, err := s.bikes.ListDue(s.ctx, &pb.ListDueRequest{Parent: parent, DaysAhead: *ahead})
		if err != nil && len(args) == 1 {
			return s.withBikes(err, parent)
		}
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			layDue(p, answer.GetItems(), *later, s.shortBike)
		})
	})
}

// layDue writes what is due, and how much is not yet.
func layDue(p *page, items []*pb.DueItem, later bool, short func(bike string) string) {
	waits, shown := 0, 0
	for _, item := range items {
		if item.GetUrgency() == pb.DueItem_LATER && !later {
			waits++
			continue
		}
		shown++
		p.para(0, "%s: %s%s", urgencyWords(item), short(item.GetBike()), prefixed(": ", item.GetWhat()))
		rule := prefixed("Rule ", item.GetRule())
		if strings.Contains(item.GetWhy(), item.GetRule()) { // said already
			rule = ""
		}
		for _, more := range []string{item.GetWhy(), item.GetProjection().GetWords(), rule} {
			if more != "" {
				p.para(2, "%s", more)
			}
		}
	}
	if shown == 0 {
		p.line("Nothing is due.")
	}
	if waits > 0 {
		p.line("Not due yet: %s; --later shows them.", count(waits, "thing", "things"))
	}
}

// urgencyWords tells how pressing something is, and until when there is time: "soon, by 2026-12-20 or in 120 km".
func urgencyWords(item *pb.DueItem) string {
	words := word(item.GetUrgency())
	var until []string
	if item.GetDueOn() != "" {
		until = append(until, "by "+item.GetDueOn())
	}
	if item.DueInKm != nil && item.GetDueInKm() >= 0 {
		until = append(until, fmt.Sprintf("in %.0f km", item.GetDueInKm()))
	}
	if len(until) > 0 {
		words += ", " + strings.Join(until, " or ")
	}
	return words
}

// prefixed is text with something before it; nothing when there is no text.
func prefixed(before, text string) string {
	if text == "" {
		return ""
	}
	return before + text
}
