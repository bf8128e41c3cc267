package render

import (
	"fmt"
	"math"
	"slices"
	"strings"

	pb "gritward/proto/gritward/v1"
)

// seasonChart is a picture of a season in two widths.
type seasonChart struct{ Broad, Narrow *chart }

// seasonCharts are the pictures of a season, each told in words too.
func seasonCharts(r *pb.SeasonReport) (both []seasonChart) {
	wide, slim := chartsOf(r, broad), chartsOf(r, narrow)
	for i := range wide {
		both = append(both, seasonChart{wide[i], slim[i]})
	}
	return both
}

func chartsOf(r *pb.SeasonReport, size chartSize) []*chart {
	columns, byMonth := columnsOf(r, size.columns)
	if len(columns) == 0 {
		return nil
	}
	charts := []*chart{ridersChart(size, columns, byMonth), standingsChart(size, columns, byMonth)}
	if margins := marginsChart(size, columns, byMonth); margins != nil {
		charts = append(charts, margins)
	}
	return charts
}

func per(byMonth bool) string {
	if byMonth {
		return "by month"
	}
	return "by ride"
}

// ridersChart draws who set out.
func ridersChart(size chartSize, columns []column, byMonth bool) *chart {
	c := newChart(size, "riders", "Riders who set out, "+per(byMonth))
	c.keys(chartKey{fill: "solid", words: "home with the group"}, chartKey{fill: "hatch", words: "turned back, or not known to be home"},
		chartKey{words: "× called off, ? not recorded, ○ not over yet"})
	most := 0.0
	for _, column := range columns {
		sum := 0.0
		for _, ride := range column.rides {
			sum += float64(ride.GetRode())
		}
		most = math.Max(most, sum)
	}
	a, step := c.axisFor(0, most)
	c.frame(a, step, columns)
	pitch := c.pitch(columns)
	var told []string
	for i, column := range columns {
		x, wide := chartLeft+pitch*(float64(i)+.14), pitch*.72
		home, rode, signs := int32(0), int32(0), ""
		for _, ride := range column.rides {
			home, rode = home+ride.GetHome(), rode+ride.GetRode()
			signs += map[pb.SeasonRide_Outcome]string{pb.SeasonRide_CALLED_OFF: "×", pb.SeasonRide_NOT_RECORDED: "?", pb.SeasonRide_TO_COME: "○", pb.SeasonRide_UNDER_WAY: "○"}[ride.GetOutcome()]
		}
		c.bar(x, a.y(float64(home)), wide, a.y(0)-a.y(float64(home)), "solid")
		c.bar(x, a.y(float64(rode)), wide, a.y(float64(home))-a.y(float64(rode)), "hatch")
		over := signs
		if rode > 0 && pitch >= 15 {
			over = fmt.Sprint(rode) + over
		}
		if len([]rune(over)) > 3 || pitch < 12 && len(over) > 0 {
			over = string([]rune(over)[:1])
		}
		c.say(x+wide/2, a.y(float64(rode))-4, "middle", "", over)
		told = append(told, fmt.Sprintf("%s: %d%s", column.label, rode, signs))
	}
	c.Desc = "Riders who set out: " + strings.Join(told, ", ") + "."
	return c
}

// standingsChart draws the riders of the newest issue of each ride by standing.
func standingsChart(size chartSize, columns []column, byMonth bool) *chart {
	c := newChart(size, "standings", "Standings in the newest issue, "+per(byMonth))
	c.keys(chartKey{fill: "open", words: "clear"}, chartKey{fill: "dots", words: "advised"}, chartKey{fill: "hatch", words: "at the back"}, chartKey{fill: "solid", words: "held"})
	sums, most := make([]*pb.StandingCount, len(columns)), 0.0
	for i, column := range columns {
		sums[i] = &pb.StandingCount{}
		for _, ride := range column.rides {
			if n := len(ride.GetIssues()); n > 0 {
				one := ride.GetIssues()[n-1].GetStandings()
				sums[i].Clear += one.GetClear()
				sums[i].Advised += one.GetAdvised()
				sums[i].Back += one.GetBack()
				sums[i].Held += one.GetHeld()
			}
		}
		most = math.Max(most, float64(sums[i].Clear+sums[i].Advised+sums[i].Back+sums[i].Held))
	}
	a, step := c.axisFor(0, most)
	c.frame(a, step, columns)
	pitch := c.pitch(columns)
	var told []string
	for i, column := range columns {
		from := 0.0
		for _, part := range []struct {
			n    int32
			fill string
		}{{sums[i].Clear, "open"}, {sums[i].Advised, "dots"}, {sums[i].Back, "hatch"}, {sums[i].Held, "solid"}} {
			to := from + float64(part.n)
			c.bar(chartLeft+pitch*(float64(i)+.14), a.y(to), pitch*.72, a.y(from)-a.y(to), part.fill)
			from = to
		}
		if from == 0 {
			c.say(chartLeft+pitch*(float64(i)+.5), a.y(0)-4, "middle", "", "–")
		}
		told = append(told, fmt.Sprintf("%s: %d clear, %d advised, %d at the back, %d held", column.label, sums[i].Clear, sums[i].Advised, sums[i].Back, sums[i].Held))
	}
	c.Desc = strings.Join(told, "; ") + "."
	return c
}

// shapes of points, around 0,0, in the order in which groups get them.
var pointShapes = []string{
	"M%[1]g %[2]gm-5 0a5 5 0 1 0 10 0a5 5 0 1 0 -10 0", // circle
	"M%[1]g %[2]gm-4.5 -4.5h9v9h-9z",                   // square
	"M%[1]g %[2]gm0 -6l5.5 10h-11z",                    // triangle
	"M%[1]g %[2]gm0 -6l6 6l-6 6l-6 -6z",                // diamond
	"M%[1]g %[2]gm-5.5 -4h11l-5.5 10z",                 // triangle on its point
}

// marginsChart draws how long before dark each group was planned home; of a month the smallest. Nil where none is known.
func marginsChart(size chartSize, columns []column, byMonth bool) *chart {
	least := make([]map[string]float64, len(columns))
	titles, order := map[string]string{}, []string{}
	low, high := math.Inf(1), math.Inf(-1)
	for i, column := range columns {
		least[i] = map[string]float64{}
		for _, ride := range column.rides {
			if ride.GetOutcome() == pb.SeasonRide_CALLED_OFF {
				continue
			}
			for _, group := range ride.GetGroups() {
				if group.MarginMin == nil {
					continue
				}
				margin := group.GetMarginMin()
				if titles[group.GetGroup()] == "" {
					titles[group.GetGroup()] = seasonGroupTitle(group)
					order = append(order, group.GetGroup())
				}
				if was, there := least[i][group.GetGroup()]; !there || margin < was {
					least[i][group.GetGroup()] = margin
				}
				low, high = math.Min(low, margin), math.Max(high, margin)
			}
		}
	}
	if len(order) == 0 {
		return nil
	}
	c := newChart(size, "margins", "Minutes home before dark, as planned, "+per(byMonth))
	if byMonth {
		c.Title += ": the smallest"
	}
	slices.Sort(order)
	var keys []chartKey
	for g, group := range order {
		keys = append(keys, chartKey{shape: pointShapes[g%len(pointShapes)], class: pointClass(g), words: titles[group]})
	}
	c.keys(append(keys, chartKey{words: "0: dark begins; below: home after dark"})...)
	a, step := c.axisFor(low, high)
	c.frame(a, step, columns)
	c.drawMargins(a, columns, least, titles, order)
	return c
}

// pointClass is the class of the points of a group: the sixth begins again with the shapes, filled.
func pointClass(group int) string {
	return []string{"point", "point full"}[group/len(pointShapes)%2]
}

// drawMargins draws the points of each group.
func (c *chart) drawMargins(a axis, columns []column, least []map[string]float64, titles map[string]string, order []string) {
	pitch := c.pitch(columns)
	var told []string
	for g, group := range order {
		shape, class := pointShapes[g%len(pointShapes)], pointClass(g)
		spread := math.Min(9, pitch/float64(len(order)+1)) * (float64(g) - float64(len(order)-1)/2)
		for i := range columns {
			if margin, there := least[i][group]; there {
				at := tenth(chartLeft + pitch*(float64(i)+.5) + spread)
				c.Points = append(c.Points, chartPoint{fmt.Sprintf(shape, at, tenth(a.y(margin))), class})
				told = append(told, fmt.Sprintf("%s %s %.0f", columns[i].label, titles[group], margin))
			}
		}
	}
	c.Desc = "Minutes before dark: " + strings.Join(told, ", ") + "; negative is after dark."
}
