package cli

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

func (a *app) careDue() *cobra.Command {
	cmd := &cobra.Command{
		Use: "due [BIKE]", Short: "What is due on your bikes, or on one, and why",
		Long: "First what keeps a bike from starting, then what sends it to the back, then advice; of each what is overdue first,\n" +
			"then by date. Kilometres are taken from the odometer where both readings have it, else from the club rides that the\n" +
			"bike rode home. A projection is a guess from few readings: measure before you trust it.",
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
		if len(args) == 0 && !a.json {
			if _, err := s.allBikes(parent); err != nil { // what they are called
				return err
			}
		}
		return a.answer(answer, func(p *page) {
			layDue(p, answer.GetItems(), *later, s.shortBike)
		})
	})
}

// layDue writes what is due, and how much is not yet.
func layDue(p *page, items []*pb.DueItem, later bool, short func(bike string) string) {
	waits, shown := 0, 0
	silent := map[string]int{}
	for _, item := range items {
		if item.GetCause() == pb.DueItem_NOT_DECLARED && item.GetUrgency() == pb.DueItem_OVERDUE { // no care: a gap in the bike file
			silent[item.GetBike()]++
			continue
		}
		if item.GetUrgency() == pb.DueItem_LATER && !later {
			waits++
			continue
		}
		shown++
		p.para(0, "%s:%s %s", short(item.GetBike()), prefixed(" ", phrase.Sentence(item.GetWhat())), dueWords(item))
		words, rule := item.GetProjection().GetWords(), prefixed("Asked by rule ", item.GetRule())
		if strings.Contains(item.GetWhy(), words) { // said already
			words = ""
		}
		if strings.Contains(item.GetWhy(), "Rule "+item.GetRule()+" ") {
			rule = ""
		}
		for _, more := range []string{item.GetWhy(), words, rule} {
			if more != "" {
				p.para(2, "%s", more)
			}
		}
	}
	if shown == 0 {
		p.line("Nothing is due.")
	}
	for _, bike := range slices.Sorted(maps.Keys(silent)) {
		p.line("%s: %s not declared, see: gritward bike standing %s", short(bike),
			count(silent[bike], "thing that rules ask for is", "things that rules ask for are"), short(bike))
	}
	if waits > 0 {
		p.line("Not due yet: %s; --later shows them.", count(waits, "thing", "things"))
	}
}

// dueWords tells until when something is to be done, or since when it should be, and what happens to the bike else:
// "Overdue since 1 December 2026, held until it is done.", "By 8 January 2027, or it is held.", "In 120 km (advice)."; "Due now
// (advice)." where nobody knows since when.
func dueWords(item *pb.DueItem) string {
	cost := costs[item.GetStanding()]
	if item.GetUrgency() == pb.DueItem_OVERDUE {
		return phrase.FirstOf(prefixed("Overdue since ", phrase.Day(item.GetDueOn())), "Due now") + cost.now + "."
	}
	when := dueCauses[item.GetCause()]
	if on := item.GetDueOn(); on != "" {
		when = "by " + phrase.Day(on)
	}
	if item.DueInKm != nil {
		when = strings.TrimPrefix(when+prefixed(", ", fmt.Sprintf("in %.0f km", item.GetDueInKm())), ", ")
	}
	return phrase.Bare(phrase.Sentence(phrase.FirstOf(when, "soon"))) + cost.later + "."
}

// costs say what a rule not met does to a bike: now, or later.
var costs = map[pb.Standing]struct{ now, later string }{
	pb.Standing_HELD: {", held until it is done", ", or it is held"}, pb.Standing_BACK: {", at the back until it is done", ", or it rides at the back"},
	pb.Standing_ADVISED: {" (advice)", " (advice)"},
}

// dueCauses say what makes something due that has no day.
var dueCauses = map[pb.DueItem_Cause]string{pb.DueItem_WET_RIDE: "after a wet ride", pb.DueItem_NOT_DECLARED: "not declared yet"}

// prefixed is text with something before it; nothing when there is no text.
func prefixed(before, text string) string {
	if text == "" {
		return ""
	}
	return before + text
}

// suffixed is text with something after it; nothing when there is no text.
func suffixed(text, after string) string {
	if text == "" {
		return ""
	}
	return text + after
}
