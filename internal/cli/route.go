package cli

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"os"

	"github.com/spf13/cobra"

	"gritward/internal/route"
)

// routeFacts is the answer of "route --json".
type routeFacts struct {
	Title        string         `json:"title"`
	DistanceM    float64        `json:"distance_m"`
	AscentM      float64        `json:"ascent_m"`
	AscentRawM   float64        `json:"ascent_raw_m"`
	DescentM     float64        `json:"descent_m"`
	Points       int            `json:"points"`
	HasElevation bool           `json:"has_elevation"`
	Shape        string         `json:"shape"`
	Bounds       routeBounds    `json:"bounds"`
	Climbs       []routeStretch `json:"climbs"`
	Descents     []routeStretch `json:"steep_descents"`
	Waypoints    []routePlace   `json:"waypoints"`
	Notes        []string       `json:"notes"`
}

type routeBounds struct {
	LatMinDeg float64 `json:"lat_min_deg"`
	LonMinDeg float64 `json:"lon_min_deg"`
	LatMaxDeg float64 `json:"lat_max_deg"`
	LonMaxDeg float64 `json:"lon_max_deg"`
}

type routeStretch struct {
	FromM           float64 `json:"from_m"`
	ToM             float64 `json:"to_m"`
	GainM           float64 `json:"gain_m"`
	GradientMeanPct float64 `json:"gradient_mean_pct"`
	GradientMaxPct  float64 `json:"gradient_max_pct"`
}

type routePlace struct {
	Title       string  `json:"title"`
	AtDistanceM float64 `json:"at_distance_m"`
	OffM        float64 `json:"off_m"`
}

func (a *app) route() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "route FILE.gpx",
		Short: "Measure a route file (no server needed)",
		Long: "Reads a GPX file and tells its distance on the WGS84 ellipsoid, its climbing as recorded and smoothed,\n" +
			"its climbs, steep descents and waypoints, and what had to be assumed. - reads standard input.",
		Example: "  gritward route moors.gpx\n  gritward route moors.gpx --gpx clean.gpx",
		Args:    cobra.ExactArgs(1),
	}
	a.writes(cmd)
	clean := cmd.Flags().String("gpx", "", "write the line as read, cleaned, as GPX 1.1 to this file")
	return a.offline(cmd, func(args []string) error {
		line, err := a.readRoute(args[0])
		if err != nil {
			return err
		}
		if *clean != "" {
			var file bytes.Buffer
			if err := route.Write(&file, line, nil); err != nil {
				return err
			}
			if err := a.writeFile(*clean, file.Bytes()); err != nil {
				return err
			}
		}
		facts := factsOf(line)
		return a.answerJSON(facts, func(p *page) {
			layRoute(p, facts)
			if *clean != "" {
				p.line("Written: %s", *clean)
			}
		})
	})
}

func (a *app) readRoute(path string) (*route.Route, error) {
	var source io.Reader = a.io.In
	if path != "-" {
		file, err := os.Open(path)
		if err != nil {
			return nil, fileError(path, err)
		}
		defer file.Close()
		source = file
	}
	done := a.progress("reading " + path)
	defer done()
	line, err := route.Read(source)
	if err != nil {
		return nil, fileError(path, err)
	}
	return line, nil
}

func factsOf(line *route.Route) routeFacts {
	facts := routeFacts{
		Title: line.Name, DistanceM: line.DistanceM, AscentM: line.AscentM, AscentRawM: line.AscentRawM,
		DescentM: line.DescentM, Points: len(line.Points), HasElevation: line.HasElevation, Shape: line.Shape.String(),
		Bounds: routeBounds{line.Bounds.MinLatDeg, line.Bounds.MinLonDeg, line.Bounds.MaxLatDeg, line.Bounds.MaxLonDeg},
		Climbs: stretchesOf(line.Climbs), Descents: stretchesOf(line.Descents), Waypoints: []routePlace{},
		Notes: append([]string{}, line.Notes...),
	}
	for _, place := range line.Waypoints {
		facts.Waypoints = append(facts.Waypoints, routePlace{place.Name, place.DistM, place.OffM})
	}
	return facts
}

func stretchesOf(list []route.Stretch) []routeStretch {
	facts := []routeStretch{}
	for _, one := range list {
		facts = append(facts, routeStretch{one.FromM, one.ToM, one.GainM, 100 * one.GradientMean, 100 * one.GradientMax})
	}
	return facts
}

func layRoute(p *page, facts routeFacts) {
	ascent := "not recorded"
	if facts.HasElevation {
		ascent = fmt.Sprintf("%.0f m (%.0f m as recorded)", facts.AscentM, facts.AscentRawM)
	}
	p.fields(
		[2]string{"title", facts.Title},
		[2]string{"distance", km(facts.DistanceM)},
		[2]string{"climbing", ascent},
		[2]string{"form", facts.Shape},
		[2]string{"points", fmt.Sprint(facts.Points)},
		[2]string{"bounds", fmt.Sprintf("%.5f,%.5f to %.5f,%.5f", facts.Bounds.LatMinDeg, facts.Bounds.LonMinDeg,
			facts.Bounds.LatMaxDeg, facts.Bounds.LonMaxDeg)},
	)
	layStretches(p, "climb at", "gain", facts.Climbs)
	layStretches(p, "steep descent at", "fall", facts.Descents)
	if len(facts.Waypoints) > 0 {
		p.line("")
		var rows [][]string
		for _, place := range facts.Waypoints {
			rows = append(rows, []string{place.Title, km(place.AtDistanceM), fmt.Sprintf("%.0f m", place.OffM)})
		}
		p.table([]string{"waypoint", "at", "off the route"}, rows)
	}
	for _, note := range facts.Notes {
		p.line("Note: %s", note)
	}
}

// layStretches tells each stretch with its place, length and gradient.
func layStretches(p *page, at, height string, stretches []routeStretch) {
	if len(stretches) == 0 {
		return
	}
	p.line("")
	var rows [][]string
	for _, one := range stretches {
		rows = append(rows, []string{km(one.FromM), km(one.ToM - one.FromM), fmt.Sprintf("%.0f m", math.Abs(one.GainM)),
			fmt.Sprintf("%.1f %%", math.Abs(one.GradientMeanPct)), fmt.Sprintf("%.1f %%", math.Abs(one.GradientMaxPct))})
	}
	p.table([]string{at, "length", height, "mean", "steepest"}, rows)
}
