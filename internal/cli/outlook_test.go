package cli_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gritward/internal/cli"
	"gritward/internal/demo"
)

// outlook runs the command over a route at standard input.
func outlook(t testing.TB, gpx []byte, args ...string) (out, told string, code int) {
	t.Helper()
	var o, e bytes.Buffer
	world := cli.IO{In: bytes.NewReader(gpx), Out: &o, Err: &e, Now: func() time.Time { return time.Time{} }}
	code = cli.Main(context.Background(), append([]string{"outlook", "--gpx", "-"}, args...), world)
	return o.String(), e.String(), code
}

// winter is a command line for a winter of Sundays, and what is added; a flag said again takes the place of the first.
func winter(more ...string) []string {
	return append([]string{"--group", "steady:23.5:Steady", "--group", "easy:18,after=5,max=8", "--start", "10:30",
		"--from", "2026-10-01", "--to", "2027-03-31", "--zone", "Europe/London", "--stop", "36.5:40:Barn"}, more...)
}

func read(t testing.TB, gpx []byte, args ...string) string {
	t.Helper()
	out, told, code := outlook(t, gpx, args...)
	if code != cli.ExitOK || told != "" {
		t.Fatalf("%d: %s", code, told)
	}
	return out
}

type outlookRead struct {
	Groups []struct {
		ID       string  `json:"id"`
		AfterMin float64 `json:"after_min"`
		TakesMin float64 `json:"takes_min"`
	}
	Dates []struct {
		Date, Problem string
		Outings       []struct {
			Group           string
			StartAt         time.Time  `json:"start_at"`
			HomeAt          time.Time  `json:"home_at"`
			DarkBeginsAt    *time.Time `json:"dark_begins_at"`
			HomeInDark      bool       `json:"home_in_dark"`
			MarginToDarkMin *float64   `json:"margin_to_dark_min"`
			LightsNeeded    bool       `json:"lights_needed"`
			LitMin          float64    `json:"lit_min"`
			LatestStartAt   *time.Time `json:"latest_start_at"`
		}
	}
}

// TestOutlookHangsTogether checks the figures of a season against each other and against the clock.
func TestOutlookHangsTogether(t *testing.T) {
	var season outlookRead
	if err := json.Unmarshal([]byte(read(t, demo.Route, winter("--json")...)), &season); err != nil {
		t.Fatal(err)
	}
	if len(season.Dates) != 26 || len(season.Groups) != 2 || season.Groups[1].AfterMin != 5 {
		t.Fatalf("%d dates, groups %v", len(season.Dates), season.Groups)
	}
	for _, day := range season.Dates {
		for g, o := range day.Outings {
			if want := fmt.Sprintf("%sT10:3%d", day.Date, 5*g); !strings.HasPrefix(o.StartAt.Format(time.RFC3339), want) {
				t.Errorf("start %v, want %s", o.StartAt, want)
			}
			if takes := o.HomeAt.Sub(o.StartAt).Minutes(); math.Abs(takes-season.Groups[g].TakesMin) > 0.03 {
				t.Errorf("%s: takes %v min", day.Date, takes)
			}
			if margin := o.DarkBeginsAt.Sub(o.HomeAt).Minutes(); math.Abs(margin-*o.MarginToDarkMin) > 0.03 || o.HomeInDark != (margin < 0) {
				t.Errorf("%s: margin %v, told %v", day.Date, margin, *o.MarginToDarkMin)
			}
			// Home the margin before dark: as much later than planned as the margin is above 30 min.
			if spare := o.LatestStartAt.Sub(o.StartAt).Minutes(); math.Abs(spare-(*o.MarginToDarkMin-30)) > 0.1 {
				t.Errorf("%s: may start %v min later with a margin of %v", day.Date, spare, *o.MarginToDarkMin)
			}
			if o.LightsNeeded != (o.LitMin > 0) || o.LightsNeeded && *o.MarginToDarkMin > 30.1 {
				t.Errorf("%s: lights %v for %v min, margin %v", day.Date, o.LightsNeeded, o.LitMin, *o.MarginToDarkMin)
			}
		}
	}
}

// TestOutlookCSV reads the table back (RFC 4180).
func TestOutlookCSV(t *testing.T) {
	out := read(t, demo.Route, winter("--csv", "--group", `odd:20:A "fine", group`)...)
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll() // every row as long as the first
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 1+26*3 {
		t.Fatalf("%d rows", len(rows))
	}
	want := "date,weekday,group,title,pace_kmh,start_at,home_at,dark_begins_at,sunset_at,margin_to_dark_min,lights_needed," +
		"lit_min,dark_min,latest_start_at,problem"
	if got := strings.Join(rows[0], ","); got != want {
		t.Errorf("head %s", got)
	}
	if got := rows[3]; got[0] != "2026-10-04" || got[1] != "sunday" || got[3] != `A "fine", group` || got[10] != "false" || got[11] != "0" {
		t.Errorf("row %q", got)
	}
}

// TestOutlookClockChange: 01:30 is skipped on 28 March 2027 and comes twice on 25 October 2026 in London (IANA tz
// database); neither is guessed, and the dates beside them stand.
func TestOutlookClockChange(t *testing.T) {
	picture := filepath.Join(t.TempDir(), "season.svg")
	out := read(t, demo.Route, winter("--start", "01:30", "--svg", picture)...)
	holds(t, out, "2026-10-25 Sun  all", "2027-03-28 Sun  all", "2027-03-21 Sun  steady",
		"! Sun 25 Oct 2026 is not reckoned: 01:30 happens twice in Europe/London: the", "! Sun 28 Mar 2027 is not reckoned: 01:30 does not exist in Europe/London: the")
	drawing, err := os.ReadFile(picture)
	if err != nil || bytes.Count(drawing, []byte("not reckoned: the clocks change")) != 2 {
		t.Errorf("%v in\n%s", err, drawing)
	}
	var season outlookRead
	if err := json.Unmarshal([]byte(read(t, demo.Route, winter("--start", "01:30", "--json")...)), &season); err != nil {
		t.Fatal(err)
	}
	for _, day := range season.Dates {
		changes := day.Date == "2026-10-25" || day.Date == "2027-03-28"
		if changes != (day.Problem != "") || changes != (len(day.Outings) == 0) {
			t.Errorf("%s: %q, %d outings", day.Date, day.Problem, len(day.Outings))
		}
	}
	// No date of the span at all can be reckoned.
	holds(t, read(t, demo.Route, winter("--start", "01:30", "--from", "2027-03-28", "--to", "2027-03-28", "--svg", picture, "--overwrite")...), "not reckoned")
}

// TestOutlookPicture: the picture is well-formed, says what it is without being seen, and has a bar for each date and
// group, whatever the titles hold.
func TestOutlookPicture(t *testing.T) {
	picture := filepath.Join(t.TempDir(), "season.svg")
	read(t, demo.Route, winter("--svg", picture, "--group", "</svg>\x01\ufffe<script>&:30")...)
	drawing, err := os.ReadFile(picture)
	if err != nil {
		t.Fatal(err)
	}
	count, text := map[string]int{}, ""
	within := ""
	for reader := xml.NewDecoder(bytes.NewReader(drawing)); ; {
		token, err := reader.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		switch token := token.(type) {
		case xml.StartElement:
			within = token.Name.Local
			count[within]++
			for _, a := range token.Attr {
				count[a.Name.Local+"="+a.Value]++
				if strings.Contains(a.Value, "NaN") || a.Name.Local == "width" && strings.HasPrefix(a.Value, "-") {
					t.Errorf("%s=%q", a.Name.Local, a.Value)
				}
			}
		case xml.CharData:
			if within == "desc" {
				text += string(token)
			}
		}
	}
	if count["role=img"] != 1 || count["title"] != 1 || count["desc"] != 1 || count["script"] != 0 || count["class=bar"] != 26*3 {
		t.Errorf("%v", count)
	}
	// Of 06 to 19 o'clock each date has its day, and nearly all a twilight and a night at both ends; one of each is the legend's.
	day, twilight, night := count["fill=url(#season-day)"], count["fill=url(#season-twilight)"], count["fill=url(#season-night)"]
	if day != 26+1 || twilight < 2*24+1 || night < 2*18 || night > 2*26 {
		t.Errorf("%d days, %d twilights, %d nights", day, twilight, night)
	}
	holds(t, text, "easy rides 5 h 30 min; needs lights on 13 of 26 dates; closest to dark on 13 December 2026", "still air")
}

// TestOutlookFarNorth: where dark does not begin or never ends the words say so.
func TestOutlookFarNorth(t *testing.T) {
	gpx := track(70, 3)
	north := func(from string, more ...string) string {
		return read(t, gpx, append([]string{"--group", "a:20", "--start", "10:00", "--from", from, "--to", from, "--weekday", "ANY", "--zone", "Europe/Oslo"}, more...)...)
	}
	holds(t, north("2026-06-21"), "does not begin", "light all day", "none", "23:59")
	holds(t, north("2026-12-21"), "does not begin", "dark all day", "no start does")
	holds(t, north("2026-12-21", "--json"), `"margin_to_dark_min": null`, `"latest_start_at": null`, `"home_in_dark": true`)
	holds(t, north("2026-12-21", "--csv"), ",true,")
}

func TestOutlookRefusals(t *testing.T) {
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"--start", "9:00"}, `--start "9:00" is not a time of day; write it as 09:00`},
		{[]string{"--start", "24:00"}, `--start "24:00" is not a time of day; write it as 09:00`},
		{[]string{"--from", "2026-02-30"}, `--from "2026-02-30": February 2026 has 28 days`},
		{[]string{"--to", "soon"}, `--to "soon" is not a date; write it as 2026-12-13`},
		{[]string{"--to", "2026-09-30"}, "--to 2026-09-30 is before --from 2026-10-01: swap them"},
		{[]string{"--from", "1066-10-14"}, "the sun is reckoned for the years 1900 to 2100; take dates in them"},
		{[]string{"--to", "2026-10-02"}, "there is no sunday from 2026-10-01 to 2026-10-02; give a longer span or another --weekday"},
		{[]string{"--to", "2036-10-02"}, "522 dates; an outlook has at most 400: give a shorter span"},
		{[]string{"--weekday", "Sonntag"}, `--weekday "Sonntag" is not a day of the week; write one as sunday, or any for every date`},
		{[]string{"--zone", "London"}, `--zone: "London" is not a time zone; write one of the IANA names, for example Europe/London`},
		{[]string{"--dark", "dusk"}, `--dark "dusk" is none of sunset, lighting-up, civil-dusk`},
		{[]string{"--margin", "13h"}, "--margin 13h0m0s is not from 0 to 12 hours; write it as 30m or 1h15m"},
		{[]string{"--margin", "-1m"}, "--margin -1m0s is not from 0 to 12 hours"},
		{[]string{"--margin", "30"}, `--margin "30" is not a time with its unit`},
		{[]string{"--group", "a:NaN"}, `--group "a:NaN" is not ID:KMH[:TITLE]`},
		{[]string{"--group", "a:0"}, `--group "a:0": a pace is from 5 to 60 km/h`},
		{[]string{"--group", "easy:20"}, `--group "easy:20": there is a group "easy" already; give each an id of its own`},
		{[]string{"--group", "a:20,after=181"}, `--group "a:20,after=181": after is from 0 to 180 minutes`},
		{[]string{"--stop", "90:10:Far"}, `--stop "90:10:Far": the route goes from 0 to 77.9 km; put the stop on it`},
		{[]string{"--stop", "-1:10:Far"}, `--stop "-1:10:Far": the route goes from 0`},
		{[]string{"--stop", "9:0:Short"}, `--stop "9:0:Short": a stop is from 1 to 1440 minutes`},
		{[]string{"--stop", "9"}, `--stop "9" is not KM:MIN:TITLE`},
		{[]string{"--csv", "--json"}, "--csv and --json: print one of them at a time"},
	} {
		t.Run(strings.Join(c.args, " "), func(t *testing.T) {
			out, told, code := outlook(t, demo.Route, winter(c.args...)...)
			if code != cli.ExitUsage || out != "" || !strings.Contains(told, c.want) {
				t.Errorf("%d %q %q, want %q", code, out, told, c.want)
			}
		})
	}
	many := winter()
	for i := range 9 {
		many = append(many, "--group", fmt.Sprintf("g%d:20", i))
	}
	if _, told, code := outlook(t, demo.Route, many...); code != cli.ExitUsage || !strings.Contains(told, "11 groups; an outlook has at most 10") {
		t.Errorf("%d %s", code, told)
	}
	for _, bad := range []string{"", "<gpx", "\x00\xff", "<html></html>"} {
		if _, told, code := outlook(t, []byte(bad), winter()...); code != cli.ExitFailed || told == "" {
			t.Errorf("%q: %d %s", bad, code, told)
		}
	}
	if _, told, code := outlook(t, demo.Route, winter("--svg", filepath.Join(t.TempDir(), "none", "x.svg"))...); code != cli.ExitFailed || !strings.Contains(told, "no such file") {
		t.Errorf("%d %s", code, told)
	}
}

// FuzzOutlook: whatever is typed, the season is reckoned or the refusal says what to write, and a table reads back.
func FuzzOutlook(f *testing.F) {
	gpx := track(54, 40)
	f.Add("10:30", "2026-10-01", "2026-10-31", "sunday", "easy:18:Easy", "0.1:20:Barn", "30m")
	f.Add("01:30", "2026-10-25", "2026-10-25", "any", "a:5,after=180", "0:1440:\xff", "12h")
	f.Add("23:59", "2100-12-31", "2100-12-31", "ANY", "\x00:60:\x1b[2J", "none", "0s")
	f.Fuzz(func(t *testing.T, start, from, to, weekday, group, stop, margin string) {
		out, told, code := outlook(t, gpx, "--start="+start, "--from="+from, "--to="+to, "--weekday="+weekday, "--group="+group,
			"--stop="+stop, "--margin="+margin, "--zone", "Europe/London", "--csv")
		if code != cli.ExitOK {
			if out != "" || !strings.HasPrefix(told, "gritward: ") {
				t.Errorf("%d %q %q", code, out, told)
			}
			return
		}
		if rows, err := csv.NewReader(strings.NewReader(out)).ReadAll(); err != nil || len(rows) < 2 {
			t.Errorf("%v: %q", err, out)
		}
	})
}

// track is an invented straight line of n points northward, 10 m apart.
func track(latDeg float64, n int) []byte {
	var b bytes.Buffer
	b.WriteString(`<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>Line</name><trkseg>`)
	for i := range n {
		fmt.Fprintf(&b, `<trkpt lat="%.6f" lon="20.0"><ele>%.1f</ele></trkpt>`, latDeg+float64(i)*0.00009, 100+20*math.Sin(float64(i)/200))
	}
	b.WriteString(`</trkseg></trk></gpx>`)
	return b.Bytes()
}

// BenchmarkOutlook is a winter of 26 Sundays of five groups over 10,000 points, the reading of the route not counted.
func BenchmarkOutlook(b *testing.B) {
	reckon := cli.OutlookReckoner(b, track(54, 10_000), append(winter(), "--stop", "none", "--group", "a:20", "--group", "b:22", "--group", "c:27"))
	b.ResetTimer()
	for b.Loop() {
		if days := reckon(); days != 26 {
			b.Fatal(days)
		}
	}
	// The limit is 100 ms.
	b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(100*time.Millisecond), "of-100ms")
}
