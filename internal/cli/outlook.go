package cli

import (
	"bytes"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// outlookFlags are the flags of a season's outlook as they were typed.
type outlookFlags struct {
	gpx, start, from, to, weekday, zone, dark, svg string
	groups, stops                                  []string
	margin                                         time.Duration
	csv                                            bool
}

func addOutlookFlags(set *pflag.FlagSet) *outlookFlags {
	f := &outlookFlags{}
	set.StringVar(&f.gpx, "gpx", "", "route as a GPX file; - is standard input")
	set.StringArrayVar(&f.groups, "group", nil, "group as "+outlookGroupForm+": pace on a flat road in still air, minutes after the start; "+
		"what else ride create takes here is let pass (repeat)")
	set.StringVar(&f.start, "start", "", "first group's start in civil time, HH:MM")
	set.StringVar(&f.from, "from", "", "first civil date")
	set.StringVar(&f.to, "to", "", "last civil date")
	set.StringVar(&f.weekday, "weekday", "sunday", "day of the week; any: every date")
	set.StringVar(&f.zone, "zone", "", "time zone, for example Europe/London")
	set.StringArrayVar(&f.stops, "stop", nil, "stop as KM:MIN:TITLE (repeat)")
	set.StringVar(&f.dark, "dark", "sunset", "when dark begins: sunset, lighting-up or civil-dusk")
	set.DurationVar(&f.margin, "margin", 30*time.Minute, "lights this long before dark, and home this long before dark")
	set.BoolVar(&f.csv, "csv", false, "print a CSV table, a row for each date and group")
	set.StringVar(&f.svg, "svg", "", "write the picture of the season to this file")
	return f
}

func (a *app) outlook() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "outlook --gpx FILE --group " + outlookGroupForm + " --start HH:MM --from YYYY-MM-DD --to YYYY-MM-DD --zone IANA",
		Short: "A season's daylight against a ride of every week (no server needed)",
		Long: "Tells for each date and group when it is home, how long before dark, how long lights are needed, and the\n" +
			"latest start to be home the margin before dark.\n" + outlookAssumed + "\n" + outlookCaution,
		Example: "  gritward outlook --gpx sunday.gpx --group steady:23.5 --group easy:18 --start 10:30 \\\n" +
			"    --from 2026-10-01 --to 2027-03-31 --zone Europe/London --stop 36.5:40:Cafe --svg season.svg",
		Args: cobra.NoArgs,
	}
	a.writes(cmd)
	flags := addOutlookFlags(cmd.Flags())
	needs(cmd, "gpx", "group", "start", "from", "to", "zone")
	return a.offline(cmd, func([]string) error {
		ask, err := flags.read(a.json)
		if err != nil {
			return err
		}
		if ask.line, err = a.readRoute(flags.gpx); err != nil {
			return err
		}
		if err := ask.checkStops(flags.stops); err != nil {
			return err
		}
		season, err := reckonOutlook(ask)
		if err != nil {
			return err
		}
		return a.tellOutlook(season, flags)
	})
}

// tellOutlook writes the picture if it was asked for, and prints the rest.
func (a *app) tellOutlook(season *outlook, flags *outlookFlags) error {
	if flags.svg != "" {
		var drawn bytes.Buffer
		if err := drawOutlook(&drawn, season); err != nil {
			return err
		}
		if err := a.writeFile(flags.svg, drawn.Bytes()); err != nil {
			return err
		}
	}
	if flags.csv {
		return outlookCSV(a.io.Out, season)
	}
	return a.answerJSON(outlookFactsOf(season), func(p *page) {
		layOutlook(p, season)
		if flags.svg != "" {
			p.line("Written: %s", flags.svg)
		}
	})
}
