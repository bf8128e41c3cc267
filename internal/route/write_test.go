package route_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"gritward/internal/route"
)

// gpxOrder is what may stand in each element that is written, in this order, as the sequences of
// http://www.topografix.com/GPX/1/1/gpx.xsd have it (metadataType, wptType, trkType, trksegType).
var gpxOrder = map[string][]string{
	"gpx":      {"metadata", "wpt", "rte", "trk", "extensions"},
	"metadata": {"name", "desc", "author", "copyright", "link", "time", "keywords", "bounds", "extensions"},
	"wpt":      point, "trkpt": point,
	"trk":    {"name", "cmt", "desc", "src", "link", "number", "type", "extensions", "trkseg"},
	"trkseg": {"trkpt", "extensions"},
}

var point = []string{"ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym", "type", "fix", "sat",
	"hdop", "vdop", "pdop", "ageofdgpsdata", "dgpsid", "extensions"}

// The schema's simple types: xsd:decimal has no exponent, xsd:dateTime here is UTC to the second, and
// longitudeType ends below 180.
var (
	decimals  = regexp.MustCompile(`^-?[0-9]+(\.[0-9]+)?$`)
	dateTimes = regexp.MustCompile(`^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z$`)
)

// holdsToSchema reports the first thing in a file that the schema does not allow; "" for none.
func holdsToSchema(text string) string {
	dec := xml.NewDecoder(strings.NewReader(text))
	var open []string // elements
	var last []int    // place in its parent's order of the last child of each
	content := ""
	for {
		tok, err := dec.Token()
		if errors.Is(err, io.EOF) {
			return ""
		}
		if err != nil {
			return err.Error()
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			if bad := startsRight(tok, open, last); bad != "" {
				return bad
			}
			open, last, content = append(open, tok.Name.Local), append(last, 0), ""
		case xml.CharData:
			content += string(tok)
		case xml.EndElement:
			if tok.Name.Local == "ele" && !decimals.MatchString(content) || tok.Name.Local == "time" && !dateTimes.MatchString(content) {
				return tok.Name.Local + " holds " + content
			}
			open, last = open[:len(open)-1], last[:len(last)-1]
		}
	}
}

func startsRight(tok xml.StartElement, open []string, last []int) string {
	name := tok.Name.Local
	if tok.Name.Space != "http://www.topografix.com/GPX/1/1" {
		return name + " is in another namespace"
	}
	attrs := map[string]string{}
	for _, a := range tok.Attr {
		attrs[a.Name.Local] = a.Value
	}
	if len(open) == 0 {
		if name != "gpx" || attrs["version"] != "1.1" || attrs["creator"] == "" {
			return "the root is not gpx 1.1 with its creator"
		}
		return ""
	}
	parent := open[len(open)-1]
	at := slices.Index(gpxOrder[parent], name)
	if at < last[len(last)-1] { // -1: not allowed there at all
		return name + " does not belong there in " + parent
	}
	last[len(last)-1] = at
	if name == "wpt" || name == "trkpt" {
		if !decimals.MatchString(attrs["lat"]) || !decimals.MatchString(attrs["lon"]) || strings.HasPrefix(attrs["lon"], "180") {
			return name + " is at lat " + attrs["lat"] + ", lon " + attrs["lon"]
		}
	}
	return ""
}

// The check itself refuses what the schema refuses.
func TestHoldsToSchemaRefuses(t *testing.T) {
	for _, text := range []string{
		track(two) + "<", `<gpx/>`, gpx("<trk/><wpt lat='1' lon='2'/>"), gpx("<trk><trkseg/><name>n</name></trk>"),
		gpx("<wpt lat='1e-7' lon='2'/>"), gpx("<wpt lat='1' lon='180'/>"), gpx("<wpt lat='1' lon='2'><time>noon</time></wpt>"),
		gpx("<wpt lat='1' lon='2'><name>n</name><ele>1</ele></wpt>"), gpx("<wpt lat='1' lon='2'><ele>1e3</ele></wpt>"), gpx("<note/>"),
	} {
		if holdsToSchema(text) == "" {
			t.Errorf("passed: %s", text)
		}
	}
}

func written(t testing.TB, r *route.Route, tracks []route.Track) string {
	t.Helper()
	var out bytes.Buffer
	if err := route.Write(&out, r, tracks); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// What is written holds to the schema and reads back as the same line.
func TestWriteIsReadBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := drawnRoute(rt)
		text := written(t, r, nil)
		if bad := holdsToSchema(text); bad != "" {
			rt.Fatalf("%s\n%s", bad, text)
		}
		back, err := route.Read(strings.NewReader(text))
		if err != nil {
			rt.Fatalf("%v\n%s", err, text)
		}
		same := func(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) == 360 }
		if len(back.Points) != len(r.Points) || back.Name != r.Name || math.Abs(back.DistanceM-r.DistanceM) > 1e-6 || math.Abs(back.AscentM-r.AscentM) > 0.01 {
			rt.Fatalf("read back %d points of %q, %g m; had %d of %q, %g m", len(back.Points), back.Name, back.DistanceM, len(r.Points), r.Name, r.DistanceM)
		}
		for i, p := range r.Points {
			if q := back.Points[i]; !same(p.LatDeg, q.LatDeg) || !same(p.LonDeg, q.LonDeg) || !same(p.ElevM, q.ElevM) || p.NewSegment != q.NewSegment {
				rt.Fatalf("point %d: %+v, had %+v", i, q, p)
			}
		}
		for i, w := range r.Waypoints {
			if v := back.Waypoints[i]; w.Name != v.Name || w.Desc != v.Desc || w.Type != v.Type || w.LatDeg != v.LatDeg {
				rt.Fatalf("waypoint %d: %+v, had %+v", i, v, w)
			}
		}
	})
}

// drawnRoute is a line of a few kilometres anywhere on earth, with what makes writing hard.
func drawnRoute(rt *rapid.T) *route.Route {
	lat, lon := rapid.Float64Range(-85, 85).Draw(rt, "lat"), rapid.SampledFrom([]float64{0, 180, -180, 179.9999, 1e-7, -3.25}).Draw(rt, "lon")
	words := rapid.SampledFrom([]string{"", "Four Becks", `<&"'>`, "Kärlsruhe 北", "a  b"})
	coords := []route.Coord{{LatDeg: lat, LonDeg: lon, ElevM: math.NaN()}}
	for range rapid.IntRange(2, 30).Draw(rt, "points") {
		last := coords[len(coords)-1]
		next := math.Remainder(last.LonDeg+rapid.Float64Range(-0.002, 0.002).Draw(rt, "east"), 360)
		elev := rapid.SampledFrom([]float64{math.NaN(), -500, 9000, 0, 1e-5, 123.4567}).Draw(rt, "elev")
		coords = append(coords, route.Coord{LatDeg: last.LatDeg + rapid.Float64Range(0.0001, 0.002).Draw(rt, "north"), LonDeg: next, ElevM: elev,
			NewSegment: rapid.IntRange(0, 9).Draw(rt, "gap") == 0})
	}
	var places []route.Waypoint
	for range rapid.IntRange(0, 3).Draw(rt, "waypoints") {
		clean := func(what string) string { return strings.Join(strings.Fields(words.Draw(rt, what)), " ") }
		places = append(places, route.Waypoint{Name: clean("name"), Desc: clean("desc"), Type: clean("type"), LatDeg: lat, LonDeg: -1})
	}
	r, err := route.New(words.Draw(rt, "title"), coords, places)
	if err != nil {
		rt.Fatal(err)
	}
	return r
}

// Each group's track has its times in order, and each stop as a point reached and left.
func TestWriteTracksWithTimes(t *testing.T) {
	r := mustRead(t, gpx(`<trk><name>Becks</name>`+seg(0, 5)+seg(6, 10)+`</trk>`))
	start := time.Date(2026, 12, 13, 10, 30, 0, 4e8, time.FixedZone("", 3600))
	var at []time.Time
	for i := range r.Points {
		at = append(at, start.Add(time.Duration(i)*10*time.Second))
	}
	halts := []route.Halt{
		{Name: "Barn <3", DistM: (r.Points[0].DistM + r.Points[1].DistM) / 2, From: at[0].Add(5 * time.Second), Leave: at[0].Add(9 * time.Second)},
		{Name: "Home", DistM: r.DistanceM, From: at[len(at)-1], Leave: at[len(at)-1].Add(time.Minute)},
	}
	text := written(t, r, []route.Track{{Name: "Becks, Easy", Desc: "18 km/h", At: at, Halts: halts}, {Name: "Becks, Brisk", At: at, Halts: halts}})
	if bad := holdsToSchema(text); bad != "" {
		t.Fatal(bad)
	}
	for _, want := range []string{
		"<trk><name>Becks, Easy</name><desc>18 km/h</desc><trkseg>\n", "<trk><name>Becks, Brisk</name><trkseg>\n",
		"<time>2026-12-13T09:30:05Z</time><name>Barn &lt;3</name>", "<time>2026-12-13T09:30:09Z</time><name>Barn &lt;3</name>",
		"<name>Home</name></trkpt>\n</trkseg></trk>",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in\n%s", want, text)
		}
	}
	if back := mustRead(t, text); len(back.Points) != len(r.Points)+1 || !slices.Contains(back.Notes, "The file has 2 tracks of one line: it is ridden once.") {
		t.Errorf("read back %d points for %d and a stop between two: %q", len(back.Points), len(r.Points), back.Notes)
	}
	times := regexp.MustCompile(`<time>([^<]*)`).FindAllString(text[:strings.Index(text, "Brisk")], -1)
	if len(times) != len(r.Points)+4 || !slices.IsSorted(times) {
		t.Errorf("%d times, for %d points and 2 stops: %v", len(times), len(r.Points), times)
	}
}

// The reference files go out and come back with the manifest's figures.
func TestWriteReferenceFiles(t *testing.T) {
	for _, row := range rows(t, filepath.Join(files, "gpx_manifest.csv")) {
		if row["expect"] != "ok" {
			continue
		}
		t.Run(row["file"], func(t *testing.T) {
			f, err := os.Open(filepath.Join(files, row["file"]))
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			r, err := route.Read(f)
			if err != nil {
				t.Fatal(err)
			}
			text := written(t, r, nil)
			if bad := holdsToSchema(text); bad != "" {
				t.Error(bad)
			}
			compareWithManifest(t, mustRead(t, text), row)
		})
	}
}
