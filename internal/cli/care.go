package cli

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

func (a *app) care() *cobra.Command {
	group := &cobra.Command{
		Use: "care", Short: "The care log of a bike, and what is due",
		Example: "  gritward care record blue-winter-bike chain-measured --wear 0.4%\n  gritward care due",
	}
	group.AddCommand(a.careRecord(), a.careList(), a.careDue())
	return a.asGroup(group)
}

func (a *app) careList() *cobra.Command {
	cmd := &cobra.Command{
		Use: "list BIKE", Short: "The care log of a bike, oldest work first",
		Long: "In the order of the days on which the work was done, oldest first; of one day in the order of recording. What was\n" +
			"struck out stays in the list, marked so, and counts for nothing.",
		Example: "  gritward care list blue-winter-bike", Args: cobra.ExactArgs(1),
	}
	return a.online(cmd, func(s *session, args []string) error {
		known, err := s.people()
		if err != nil {
			return err
		}
		name, err := s.bikeName(args[0], "")
		if err != nil {
			return err
		}
		answer := &pb.ListCareResponse{}
		answer.Entries, err = allPages(func(token string) ([]*pb.CareEntry, string, error) {
			page, err := s.bikes.ListCare(s.ctx, &pb.ListCareRequest{Parent: name, PageSize: pageSize, PageToken: token})
			return page.GetEntries(), page.GetNextPageToken(), err
		})
		if err != nil {
			return s.withBikes(err, name)
		}
		struck := struckBy(answer.GetEntries())
		slices.SortStableFunc(answer.Entries, func(a, b *pb.CareEntry) int { return cmp.Compare(a.GetDoneOn(), b.GetDoneOn()) })
		return a.answer(answer, func(p *page) {
			var rows [][]string
			for _, entry := range answer.GetEntries() {
				work := careWords(entry)
				if by := struck[entry.GetName()]; by != "" {
					work += " (struck out by " + names.Last(by) + ")"
				}
				rows = append(rows, []string{entry.GetDoneOn(), work, odometer(entry), known.name(entry.GetRecordedBy()),
					entry.GetNote(), names.Last(entry.GetName())})
			}
			p.list("nothing recorded yet: gritward care record BIKE WORK",
				[]string{"done on", "work", "odometer", "by", "note", "entry"}, rows)
		})
	})
}

// struckBy gives, for each entry of a log in the order of recording that is struck out, the entry that does. In old logs
// an entry that strikes may be struck out itself, by a later one; it strikes nothing then.
func struckBy(log []*pb.CareEntry) map[string]string {
	struck := map[string]string{}
	for _, entry := range slices.Backward(log) {
		if entry.GetWork() == pb.CareEntry_STRUCK_OUT && struck[entry.GetName()] == "" {
			struck[entry.GetStrikes()] = entry.GetName()
		}
	}
	return struck
}

// careWords tells what was done, where, and what was measured: "pads-measured, rear, 1.2 mm".
func careWords(entry *pb.CareEntry) string {
	parts := []string{word(entry.GetWork())}
	for _, part := range []string{word(entry.GetEnd()), word(entry.GetBearing()), entry.GetLabel()} {
		if part != "" {
			parts = append(parts, part)
		}
	}
	if entry.WearPct != nil {
		parts = append(parts, signed(entry.GetWearPct())+" %")
	}
	if entry.ThicknessMm != nil {
		parts = append(parts, number(entry.GetThicknessMm())+" mm")
	}
	if entry.GetStrikes() != "" {
		parts = append(parts, names.Last(entry.GetStrikes()))
	}
	return strings.Join(parts, ", ")
}

func odometer(entry *pb.CareEntry) string {
	if entry.OdometerKm == nil {
		return ""
	}
	return fmt.Sprintf("%.0f km", entry.GetOdometerKm())
}
