package cli

import (
	"fmt"
	"io"
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
			"its climbs and waypoints, and what had to be assumed. - reads standard input.",
		Example: "  gritward route moors.gpx",
		Args:    cobra.ExactArgs(1),
	}
	return a.offline(cmd, func(args []string) error {
		line, err := a.readRoute(args[0])
		if err != nil {
			return err
		}
		facts := factsOf(line)
		return a.answerJSON(facts, func(p *page) { layRoute(p, facts) })
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
		Climbs: []routeStretch{}, Waypoints: []routePlace{}, Notes: append([]string{}, line.Notes...),
	}
	for _, climb := range line.Climbs {
		facts.Climbs = append(facts.Climbs, routeStretch{climb.FromM, climb.ToM, climb.GainM, 100 * climb.GradientMean,
			100 * climb.GradientMax})
	}
	for _, place := range line.Waypoints {
		facts.Waypoints = append(facts.Waypoints, routePlace{place.Name, place.DistM, place.OffM})
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
	if len(facts.Climbs) > 0 {
		p.line("")
		var rows [][]string
		for _, climb := range facts.Climbs {
			rows = append(rows, []string{km(climb.FromM), km(climb.ToM - climb.FromM), fmt.Sprintf("%.0f m", climb.GainM),
				fmt.Sprintf("%.1f %%", climb.GradientMeanPct), fmt.Sprintf("%.1f %%", climb.GradientMaxPct)})
		}
		p.table([]string{"climb at", "length", "gain", "mean", "steepest"}, rows)
	}
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
