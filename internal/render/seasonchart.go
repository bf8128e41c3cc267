package render

import (
	"fmt"
	"math"
	"time"

	pb "gritward/proto/gritward/v1"
)

// Measures of a season's pictures, in their own units; letters are 11 high.
const (
	chartLeft   = 44.0
	chartMargin = 22.0
	chartDeep   = 190.0
	chartLegend = 24.0
	chartStep   = 18.0
)

// chartSize is a width to draw for.
type chartSize struct {
	// name stands at the end of ids.
	name string
	wide float64
	// columns is how many rides get a column each; more are drawn by the month.
	columns int
}

// Sheets and desks are wide, telephones narrow.
var broad, narrow = chartSize{"", 760, 40}, chartSize{"-narrow", 360, 24}

// chart is a picture of a season: bars of patterns, lines, points of shapes, words.
type chart struct {
	ID, Title, Desc string
	Width, Height   float64
	Bars            []chartBar
	Lines           []chartLine
	Points          []chartPoint
	Words           []chartWords
	// right is where the columns end, top where they begin: below the keys.
	right, top float64
}

// newChart is an empty picture.
func newChart(size chartSize, id, title string) *chart {
	return &chart{ID: id + size.name, Title: title, Width: size.wide, right: size.wide - chartMargin}
}

type chartBar struct {
	X, Y, Wide, Deep float64
	Fill             string // of a pattern
}

type chartLine struct {
	X1, Y1, X2, Y2 float64
	Class          string
}

type chartPoint struct {
	Path  string
	Class string
}

type chartWords struct {
	X, Y   float64
	Anchor string
	Class  string
	Text   string
}

func (c *chart) say(x, y float64, anchor, class, text string) {
	c.Words = append(c.Words, chartWords{tenth(x), tenth(y), anchor, class, text})
}

func (c *chart) bar(x, y, wide, deep float64, fill string) {
	if deep > 0 && wide > 0 {
		c.Bars = append(c.Bars, chartBar{tenth(x), tenth(y), tenth(wide), tenth(deep), fill})
	}
}

func (c *chart) line(x1, y1, x2, y2 float64, class string) {
	c.Lines = append(c.Lines, chartLine{tenth(x1), tenth(y1), tenth(x2), tenth(y2), class})
}

func tenth(v float64) float64 { return math.Round(v*10) / 10 }

// column is what is drawn above one place of the horizontal axis: a ride, or the rides of a month.
type column struct {
	label string
	rides []*pb.SeasonRide
}

// columnsOf puts each ride into a column of its own, or many rides together by the month, months without rides included.
func columnsOf(r *pb.SeasonReport, most int) (columns []column, byMonth bool) {
	if len(r.GetRides()) <= most {
		for _, ride := range r.GetRides() {
			columns = append(columns, column{dayLabel(ride.GetDay()), []*pb.SeasonRide{ride}})
		}
		return columns, false
	}
	byDay := map[string][]*pb.SeasonRide{}
	for _, ride := range r.GetRides() {
		month := ride.GetDay()[:min(len(ride.GetDay()), len("2006-01"))]
		byDay[month] = append(byDay[month], ride)
	}
	first, err1 := time.Parse("2006-01", r.GetRides()[0].GetDay()[:7])
	last, err2 := time.Parse("2006-01", r.GetRides()[len(r.GetRides())-1].GetDay()[:7])
	if err1 != nil || err2 != nil {
		return nil, true
	}
	for month := first; !month.After(last); month = month.AddDate(0, 1, 0) {
		columns = append(columns, column{month.Format("Jan 06"), byDay[month.Format("2006-01")]})
	}
	return columns, true
}

func dayLabel(day string) string {
	if at, err := time.Parse(time.DateOnly, day); err == nil {
		return at.Format("2 Jan")
	}
	return day
}

// axis maps values to heights.
type axis struct{ low, high, top float64 }

func (a axis) y(value float64) float64 {
	return a.top + chartDeep*(a.high-value)/(a.high-a.low)
}

// axisFor spans values, zero included, in round steps.
func (c *chart) axisFor(low, high float64) (a axis, step float64) {
	low, high = math.Min(low, 0), math.Max(high, 1)
	step = math.Pow(10, math.Floor(math.Log10((high-low)/4)))
	for _, times := range []float64{1, 2, 5, 10} {
		if (high-low)/(step*times) <= 6 {
			step *= times
			break
		}
	}
	step = math.Max(step, 1)
	return axis{math.Floor(low/step) * step, math.Ceil(high/step) * step, c.top}, step
}

// frame draws the axis with its steps, and the labels of the columns.
func (c *chart) frame(a axis, step float64, columns []column) {
	for value := a.low; value <= a.high+step/2; value += step {
		class := "grid"
		if math.Abs(value) < step/100 {
			class = "zero"
		}
		c.line(chartLeft, a.y(value), c.right, a.y(value), class)
		c.say(chartLeft-5, a.y(value)+4, "end", "", fmt.Sprintf("%.0f", value))
	}
	pitch, lastAt := c.pitch(columns), -100.0
	for i, column := range columns {
		x := chartLeft + pitch*(float64(i)+.5)
		if x-lastAt < 40 { // a label is so wide
			continue
		}
		lastAt = x
		c.say(x, a.top+chartDeep+16, "middle", "", column.label)
	}
	c.Height = a.top + chartDeep + 26
}

func (c *chart) pitch(columns []column) float64 {
	return (c.right - chartLeft) / float64(max(len(columns), 1))
}

// chartKey says what a sign stands for: a pattern, or the shape of a point. Without either it is a remark.
type chartKey struct{ fill, shape, class, words string }

// keys draws the keys above a chart, in as many lines as they need.
func (c *chart) keys(keys ...chartKey) {
	x, y := chartLeft, 18.0
	for _, key := range keys {
		sign := map[bool]float64{true: 23, false: 0}[key.fill != "" || key.shape != ""]
		long := sign + 6.2*float64(len([]rune(key.words)))
		if x+long > c.right && x > chartLeft {
			x, y = chartLeft, y+chartStep
		}
		if key.shape != "" {
			c.Points = append(c.Points, chartPoint{fmt.Sprintf(key.shape, tenth(x+8), y-4), key.class})
		} else if key.fill != "" {
			c.bar(x, y-10, 18, 12, key.fill)
		}
		c.say(x+sign, y, "start", "", key.words)
		x += long + chartLegend
	}
	c.top = y + 26
}
