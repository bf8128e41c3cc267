package cli

import (
	"bytes"

	"github.com/spf13/cobra"

	"gritward/internal/render"
)

// writtenSheets is the answer of the command that wrote sheets, with --json.
type writtenSheets struct {
	writtenFile
	render.Sheets
}

func (a *app) rideSheets() *cobra.Command {
	cmd := &cobra.Command{
		Use: "sheets RIDE FILE.pdf", Short: "Write the sheets to print: one page for each group",
		Long: "Writes the published roster as PDF, one A4 page for each group that runs: times, riding order with boxes to tick for\n" +
			"sign-on and home, weather, hazards, what the leader says at the start. Folded twice it shows one of its four panels\n" +
			"whole. A page with more to tell than it holds goes on overleaf, and says so. - writes to standard output.",
		Example: "  gritward ride sheets 2026-12-13-moors sheets.pdf\n" +
			"  gritward ride sheets 2026-12-13-moors easy.pdf --group easy --issue 2",
		Args: cobra.ExactArgs(2),
	}
	a.writes(cmd)
	issue := cmd.Flags().Int32("issue", 0, "number of the issue; 0: the newest")
	groups := cmd.Flags().StringArray("group", nil, "id of a group whose sheet is wanted (repeat; none: all)")
	return a.online(cmd, func(s *session, args []string) error {
		if *issue < 0 {
			return usagef("--issue %d: issues are numbered from 1", *issue)
		}
		roster, err := s.getRoster(args[0], *issue)
		if err != nil {
			return err
		}
		var drawn bytes.Buffer
		sheets, err := render.PDF(&drawn, roster, *groups...)
		if err != nil {
			return err
		}
		written := writtenSheets{writtenFile{args[1], drawn.Len()}, sheets}
		return a.deliver(args[1], drawn.Bytes(), written, func(p *page) {
			p.line("Written: %s, %s", written.File, count(sheets.Pages, "page", "pages"))
			if sheets.Pages > len(sheets.Groups) {
				p.line("More than a page a group: print on both sides.")
			}
			if sheets.Unprinted != "" {
				p.line("%s", sheets.Unprinted)
			}
		})
	})
}
