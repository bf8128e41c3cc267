package cli

import (
	"bytes"
	"io"

	"github.com/spf13/cobra"

	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

func (a *app) rideRoster() *cobra.Command {
	cmd := &cobra.Command{
		Use: "roster RIDE", Short: "The published roster: who rides where, and the light",
		Example: "  gritward ride roster 2026-12-13-moors\n" +
			"  gritward ride roster 2026-12-13-moors --issue 2 --html roster.html --svg light.svg",
		Args: cobra.ExactArgs(1),
	}
	a.writes(cmd)
	flags := cmd.Flags()
	issue := flags.Int32("issue", 0, "number of the issue; 0: the newest")
	html := flags.String("html", "", "write it, with its brief, as a page to this file")
	svg := flags.String("svg", "", "write the picture of the light to this file")
	return a.online(cmd, func(s *session, args []string) error {
		if *issue < 0 {
			return usagef("--issue %d: issues are numbered from 1", *issue)
		}
		roster, err := s.getRoster(args[0], *issue)
		if err != nil {
			return err
		}
		if err := a.writeRoster(roster, *html, *svg); err != nil {
			return err
		}
		return a.answer(roster, func(p *page) {
			for _, path := range []string{*html, *svg} {
				if path != "" {
					p.line("Written: %s", path)
				}
			}
			if *html == "" && *svg == "" {
				p.roster(roster, render.RosterOnly)
			}
		})
	})
}

// writeRoster writes the files that were asked for: all are drawn, and each may be written, before the first is.
func (a *app) writeRoster(roster *pb.Roster, html, svg string) error {
	files := []struct {
		path  string
		draw  func(w io.Writer, roster *pb.Roster) error
		drawn bytes.Buffer
	}{{path: html, draw: render.HTML}, {path: svg, draw: render.SVG}}
	for i := range files {
		file := &files[i]
		if file.path == "" {
			continue
		}
		if err := a.mayWrite(file.path); err != nil {
			return err
		}
		if err := file.draw(&file.drawn, roster); err != nil {
			return err
		}
	}
	for i := range files {
		if files[i].path == "" {
			continue
		}
		if err := a.writeFile(files[i].path, files[i].drawn.Bytes()); err != nil {
			return err
		}
	}
	return nil
}

func (a *app) rideBrief() *cobra.Command {
	cmd := &cobra.Command{
		Use: "brief RIDE", Short: "The safety brief of the published roster",
		Example: "  gritward ride brief 2026-12-13-moors", Args: cobra.ExactArgs(1),
	}
	issue := cmd.Flags().Int32("issue", 0, "number of the issue; 0: the newest")
	return a.online(cmd, func(s *session, args []string) error {
		if *issue < 0 {
			return usagef("--issue %d: issues are numbered from 1", *issue)
		}
		roster, err := s.getRoster(args[0], *issue)
		if err != nil {
			return err
		}
		return a.answer(roster.GetBrief(), func(p *page) { p.roster(roster, render.BriefOnly) })
	})
}
