package cli

import (
	"fmt"
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
		Use: "list BIKE", Short: "The care log of a bike, oldest first",
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
		answer, err := s.bikes.ListCare(s.ctx, &pb.ListCareRequest{Parent: name})
		if err != nil {
			return s.withBikes(err, name)
		}
		return a.answer(answer, func(p *page) {
			struck := struckOut(answer.GetEntries())
			var rows [][]string
			for _, entry := range answer.GetEntries() {
				work := careWords(entry)
				if struck[entry.GetName()] {
					work += " (struck out)"
				}
				rows = append(rows, []string{entry.GetDoneOn(), work, odometer(entry), known.name(entry.GetRecordedBy()),
					entry.GetNote(), names.Last(entry.GetName())})
			}
			p.list("nothing recorded yet: gritward care record BIKE WORK",
				[]string{"done on", "work", "odometer", "by", "note", "entry"}, rows)
		})
	})
}

// struckOut are the names of the entries that a later one strikes out.
func struckOut(entries []*pb.CareEntry) map[string]bool {
	struck := map[string]bool{}
	for _, entry := range entries {
		if entry.GetWork() == pb.CareEntry_STRUCK_OUT {
			struck[entry.GetStrikes()] = true
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
