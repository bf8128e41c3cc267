package cli

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"gritward/internal/phrase"
	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

func (a *app) season() *cobra.Command {
	group := &cobra.Command{
		Use: "season", Short: "What came of a season's rides",
		Example: "  gritward season report --from 2026-10-01 --to 2027-03-31",
	}
	group.AddCommand(a.seasonReport())
	return a.asGroup(group)
}

func (a *app) seasonReport() *cobra.Command {
	cmd := &cobra.Command{
		Use: "report", Short: "The rides of a span of days, summed for the committee",
		Long: "Rides, riders, standings, what was asked for, light, times, kilometres: counted from rosters, sign-ups and roll calls.\n" +
			"What was not recorded is said. Secretaries get it with names, leaders without. --html writes a page with pictures that\n" +
			"is complete in itself; - writes it to standard output.",
		Example: "  gritward season report --from 2026-10-01 --to 2027-03-31\n" +
			"  gritward season report --from 2026-10-01 --to 2027-03-31 --html season.html",
		Args: cobra.NoArgs,
	}
	a.writes(cmd)
	from := cmd.Flags().String("from", "", "first day: 2026-10-01")
	to := cmd.Flags().String("to", "", "last day: 2027-03-31")
	file := cmd.Flags().String("html", "", "write a page with pictures to this file")
	needs(cmd, "from", "to")
	return a.online(cmd, func(s *session, _ []string) error {
		request := &pb.GetSeasonReportRequest{Parent: s.clubName()}
		var err error
		if request.From, err = dateText("from", *from); err != nil {
			return err
		}
		if request.To, err = dateText("to", *to); err != nil {
			return err
		}
		if *file != "" && *file != "-" {
			if err := a.mayWrite(*file); err != nil { // before the work
				return err
			}
		}
		done := a.progress("reckoning the season")
		report, err := s.seasons.GetSeasonReport(s.ctx, request)
		done()
		if err != nil {
			return err
		}
		if *file == "" {
			return a.answer(report, func(p *page) { laySeason(p, report) })
		}
		var drawn bytes.Buffer
		if err := render.SeasonHTML(&drawn, report); err != nil {
			return err
		}
		return a.deliver(*file, drawn.Bytes(), writtenFile{*file, drawn.Len()}, func(p *page) {
			p.line("Written: %s, %s", *file, count(len(report.GetRides()), "ride", "rides"))
		})
	})
}

func laySeason(p *page, r *pb.SeasonReport) {
	p.line("%s, rides from %s to %s", r.GetClubTitle(), phrase.Day(r.GetFrom()), phrase.Day(r.GetTo()))
	if len(r.GetRides()) == 0 {
		p.line("There are no rides on these days.")
		return
	}
	p.line("")
	p.fields(render.SeasonFacts(r)...)
	p.section("What is not known", len(r.GetMissing()) > 0)
	for _, one := range r.GetMissing() {
		p.line("%s", one)
	}
	var rides, rules, remedies, riders, bikes [][]string
	for _, ride := range r.GetRides() {
		rides = append(rides, render.SeasonRideRow(r, ride))
	}
	p.section("Rides", true)
	p.table([]string{"day", "ride", "outcome", "set out", "groups", "wishes met", "note"}, rides)
	if margins := render.SmallestMargins(r, 5); len(margins) > 0 {
		p.section("Least light: planned home, against the beginning of dark", true)
		p.table([]string{"day", "ride", "group", "home", "with lights", "took"}, margins)
	}
	for _, rule := range r.GetRules() {
		rules = append(rules, render.SeasonRuleRow(rule))
	}
	p.section("Rules not met", len(rules) > 0)
	p.optional([]string{"rule", "times", "held", "at the back", "advised", "not declared"}, rules)
	const most = 8
	for _, one := range r.GetRemedies()[:min(len(r.GetRemedies()), most)] {
		remedies = append(remedies, []string{fmt.Sprint(one.GetTimes()), one.GetRemedy()})
	}
	p.section("Asked for most often; … stands for a number", len(remedies) > 0)
	p.optional([]string{"times", "remedy"}, remedies)
	for _, rider := range r.GetRiders() {
		riders = append(riders, []string{render.RiderName(rider), fmt.Sprint(rider.GetRode()), fmt.Sprint(rider.GetHome()), fmt.Sprint(rider.GetWaiting())})
	}
	p.section("Riders", len(riders) > 0)
	p.optional([]string{"rider", "set out", "home with the group", "left waiting"}, riders)
	for _, bike := range r.GetBikes() {
		bikes = append(bikes, render.SeasonBikeRow(bike))
	}
	p.section("Bikes: kilometres of club rides ridden home", len(bikes) > 0)
	p.optional([]string{"member", "bike", "rides", "km", "wet", "chain wear"}, bikes)
}

// section writes a heading after an empty line, where there is something below it.
func (p *page) section(title string, something bool) {
	if something {
		p.line("")
		p.line("%s", strings.TrimSpace(title))
	}
}

// optional writes a table, where it has rows.
func (p *page) optional(head []string, rows [][]string) {
	if len(rows) > 0 {
		p.table(head, rows)
	}
}
