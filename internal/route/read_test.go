package route_test

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/text/encoding/charmap"
	utf "golang.org/x/text/encoding/unicode"

	"gritward/internal/route"
)

func TestReadEncodings(t *testing.T) {
	const text = `<gpx version="1.0"><name>Café Brücke</name><trk><trkseg>` + two + `</trkseg></trk></gpx>`
	encode := func(s string, err error) string {
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	declared := func(label string) string { return `<?xml version="1.0" encoding="` + label + `"?>` + "\n" + text }
	for name, file := range map[string]string{
		"UTF-8":                         text,
		"UTF-8 with mark":               "\xEF\xBB\xBF" + declared("UTF-8"),
		"UTF-8 that says UTF-16":        declared("UTF-16"),
		"UTF-16 little end, mark":       encode(utf.UTF16(utf.LittleEndian, utf.UseBOM).NewEncoder().String(declared("UTF-16"))),
		"UTF-16 big end, mark":          encode(utf.UTF16(utf.BigEndian, utf.UseBOM).NewEncoder().String(declared("utf-16"))),
		"UTF-16 little end, no mark":    encode(utf.UTF16(utf.LittleEndian, utf.IgnoreBOM).NewEncoder().String(declared("UTF-16LE"))),
		"UTF-16 big end, no mark":       encode(utf.UTF16(utf.BigEndian, utf.IgnoreBOM).NewEncoder().String(text)),
		"ISO-8859-1":                    encode(charmap.ISO8859_1.NewEncoder().String(declared("ISO-8859-1"))),
		"ISO-8859-1 by its other name":  encode(charmap.ISO8859_1.NewEncoder().String(declared("latin1"))),
		"ISO-8859-15":                   encode(charmap.ISO8859_15.NewEncoder().String(declared("iso-8859-15"))),
		"Windows-1252":                  encode(charmap.Windows1252.NewEncoder().String(declared("windows-1252"))),
		"character and XML's entities":  strings.Replace(text, "Café", "Caf&#233;", 1),
		"name in a section of raw text": strings.Replace(text, "Café Brücke", "<![CDATA[Café Brücke]]>", 1),
	} {
		t.Run(name, func(t *testing.T) {
			if got := mustRead(t, file).Name; got != "Café Brücke" {
				t.Errorf("name %q", got)
			}
			r, err := route.Read(iotest.OneByteReader(strings.NewReader(file)))
			if err != nil || r.Name != "Café Brücke" {
				t.Errorf("byte by byte: %v", err)
			}
		})
	}
}

func TestReadNames(t *testing.T) {
	for _, c := range []struct{ name, inner, want string }{
		{"of the track", `<metadata><name>file</name></metadata><trk><name>track</name><trkseg>` + two + `</trkseg></trk>`, "track"},
		{"of the file", `<metadata><name>file</name><author><name>x</name></author></metadata><trk><trkseg>` + two + `</trkseg></trk>`, "file"},
		{"none", `<trk><trkseg>` + two + `</trkseg></trk>`, ""},
		{"of an extension is passed over", `<trk><x:name xmlns:x="urn:x">ext</x:name><trkseg>` + two + `</trkseg></trk>`, ""},
		{"on one line", "<trk><name> Over\n\tthe&#x202E; <b>top</b> Moor </name><trkseg>" + two + `</trkseg></trk>`, "Over the Moor"},
		{"shortened", `<trk><name>` + strings.Repeat("é", 101) + `</name><trkseg>` + two + `</trkseg></trk>`, strings.Repeat("é", 99) + "…"},
		{"just not shortened", `<trk><name>` + strings.Repeat("é", 100) + `</name><trkseg>` + two + `</trkseg></trk>`, strings.Repeat("é", 100)},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := mustRead(t, gpx(c.inner)).Name; got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

// pts is points on a meridian at these latitudes, thousandths of a degree from 52.
func pts(kind string, milli ...int) string {
	var b strings.Builder
	for _, m := range milli {
		b.WriteString("<" + kind + ` lon="0" lat="52.` + string([]byte{byte('0' + m/100), byte('0' + m/10%10), byte('0' + m%10)}) + `"><ele>10</ele></` + kind + ">")
	}
	return b.String()
}

func seg(milli ...int) string { return "<trkseg>" + pts("trkpt", milli...) + "</trkseg>" }

// One thousandth of a degree of latitude is 111.27 m there.
func TestReadChoosesTheLine(t *testing.T) {
	const flatNote = "Every elevation in the file is 10 m: a flat road is assumed."
	for _, c := range []struct {
		name, inner  string
		whole, inSeg float64
		notes        []string
	}{
		{"route alone", `<rte>` + pts("rtept", 0, 10) + `</rte>`, 1112.7, 1112.7, nil},
		{"track before route", `<rte>` + pts("rtept", 0, 10) + `</rte><trk>` + seg(0, 5) + `</trk>`, 556.3, 556.3,
			[]string{"The file has both a track and a route: the track is used."}},
		{"route where the track is no line", `<trk>` + seg(3) + `</trk><rte>` + pts("rtept", 0, 10) + `</rte>`, 1112.7, 1112.7, nil},
		{"two segments", `<trk>` + seg(0, 5) + seg(6, 10) + `</trk>`, 1112.7, 1001.4,
			[]string{"The line has 2 segments: the gap of 111 m is ridden straight."}},
		{"three segments, one empty", `<trk>` + seg(0, 5) + seg() + seg(6, 8) + seg(9, 10) + `</trk>`, 1112.7, 890.1,
			[]string{"The line has 3 segments: the gaps, 223 m in all, are ridden straight."}},
		{"segments that meet", `<trk>` + seg(0, 5) + seg(5, 10) + `</trk>`, 1112.7, 1112.7, nil},
		{"tracks that follow on", `<trk>` + seg(0, 5) + `</trk><trk>` + seg(9, 10) + `</trk>`, 1112.7, 667.6,
			[]string{"The file has 2 tracks, which are ridden one after the other.", "The line has 2 segments: the gap of 445 m is ridden straight."}},
		{"tracks apart", `<trk>` + seg(0, 5) + `</trk><trk>` + seg(10, 20) + `</trk><trk>` + seg(100, 109) + `</trk>`, 1112.7, 1112.7,
			[]string{"The file has 3 tracks that do not follow on from each other: the longest line, of 1.1 km, is used."}},
		{"points repeated", `<trk>` + seg(0, 0, 5, 5, 5, 10) + `</trk>`, 1112.7, 1112.7, nil},
		{"far between", `<trk>` + seg(0, 20) + `</trk>`, 2225.3, 2225.3,
			[]string{"Two points are 2.2 km apart in a straight line: the road is probably longer, and the ride later."}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := mustRead(t, gpx(c.inner))
			near(t, "DistanceM", r.DistanceM, c.whole, 0.1)
			near(t, "SegmentsDistanceM", r.SegmentsDistanceM, c.inSeg, 0.1)
			if diff := cmp.Diff(append(c.notes, flatNote), r.Notes); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestReadNotes(t *testing.T) {
	for _, c := range []struct {
		name, inner string
		want        []string
	}{
		{"no elevation", two, []string{"Two points are 11.1 km apart in a straight line: the road is probably longer, and the ride later.", "No elevation in the file: a flat road is assumed."}},
		{"odd elevations", `<trkpt lat="52" lon="0"><ele>NaN</ele></trkpt><trkpt lat="52.001" lon="0"><ele>9001</ele></trkpt>` +
			`<trkpt lat="52.002" lon="0"><ele>-501</ele></trkpt><trkpt lat="52.003" lon="0"><ele>12 m</ele></trkpt>` +
			`<trkpt lat="52.004" lon="0"><ele>10</ele></trkpt><trkpt lat="52.005" lon="0"><ele/></trkpt><trkpt lat="52.006" lon="0"><ele>11</ele></trkpt>`,
			[]string{"4 elevations are not usable (not a number, or outside -500 to 9000 m) and taken as unknown.", "5 points have no elevation: an even slope is assumed there."}},
		{"times backwards", `<trkpt lat="52" lon="0"><ele>1</ele><time>2026-01-04T10:00:00Z</time></trkpt>` +
			`<trkpt lat="52.001" lon="0"><ele>2</ele><time>2026-01-04T09:59:59Z</time></trkpt><trkpt lat="52.002" lon="0"><ele>1</ele><time>soon</time></trkpt>` +
			`<trkpt lat="52.003" lon="0"><ele>1</ele><time>2026-01-04T10:00:00Z</time></trkpt>`,
			[]string{"Recorded times run backwards in 1 place; recorded times are not used."}},
		{"a wall", `<trkpt lat="52" lon="0"><ele>1</ele></trkpt><trkpt lat="52.001" lon="0"><ele>101</ele></trkpt>`,
			[]string{"The line is as steep as 90 % in the stretch from km 0.0: look whether its elevations are right."}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if diff := cmp.Diff(c.want, mustRead(t, track(c.inner)).Notes); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// Times count in each of the tracks that are joined, not from one to the next.
func TestReadNotesTimesOfAllTracks(t *testing.T) {
	one := func(lat, first, second string) string {
		return `<trk><trkseg><trkpt lat="` + lat + `1" lon="0"><ele>1</ele><time>2026-01-04T` + first + `Z</time></trkpt>` +
			`<trkpt lat="` + lat + `2" lon="0"><ele>2</ele><time>2026-01-04T` + second + `Z</time></trkpt></trkseg></trk>`
	}
	r := mustRead(t, gpx(one("52.00", "10:00:00", "09:00:00")+one("52.000", "08:30:00", "08:00:00")))
	if want := "Recorded times run backwards in 2 places; recorded times are not used."; len(r.Notes) < 2 || r.Notes[1] != want {
		t.Errorf("got %q, want %q", r.Notes, want)
	}
}

func TestReadWaypoints(t *testing.T) {
	inner := `<wpt lat="52.005" lon="0.001"><name>Ford</name><desc>deep after  rain</desc><type>hazard</type></wpt>`
	r := mustRead(t, gpx(inner+`<trk>`+seg(0, 10)+`</trk>`))
	if len(r.Waypoints) != 1 {
		t.Fatalf("%d waypoints", len(r.Waypoints))
	}
	w := r.Waypoints[0]
	if w.Name != "Ford" || w.Desc != "deep after rain" || w.Type != "hazard" {
		t.Errorf("got %+v", w)
	}
	near(t, "DistM", w.DistM, 556.35, 0.1)
	near(t, "OffM", w.OffM, 68.65, 0.1) // 0.001 degrees of longitude at 52 N
	many := strings.Repeat(inner, route.MaxWaypoints+3)
	r = mustRead(t, gpx(many+`<trk>`+seg(0, 10)+`</trk>`))
	if len(r.Waypoints) != route.MaxWaypoints || r.Notes[0] != "The file has 203 waypoints: only the first 200 are kept." {
		t.Errorf("%d waypoints, notes %v", len(r.Waypoints), r.Notes)
	}
}

// What is stored of a route and measured again must be the same route.
func TestNewRepeatsRead(t *testing.T) {
	for _, file := range []string{"big_7745pts.gpx", "trk_rte_wpt_no_namespace.gpx", "synthetic_antimeridian.gpx"} {
		t.Run(file, func(t *testing.T) {
			text, err := os.ReadFile(filepath.Join(files, file))
			if err != nil {
				t.Fatal(err)
			}
			want := mustRead(t, string(text))
			var coords []route.Coord
			for _, p := range want.Points {
				coords = append(coords, route.Coord{LatDeg: p.LatDeg, LonDeg: p.LonDeg, ElevM: p.ElevM, NewSegment: p.NewSegment})
			}
			got, err := route.New(want.Name, coords, want.Waypoints)
			if err != nil {
				t.Fatal(err)
			}
			want.Notes, got.Notes = nil, nil // those on reading are Read's alone
			if diff := cmp.Diff(want, got); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestNewRefuses(t *testing.T) {
	nan := math.NaN()
	good := north(3, 100, flat)
	for _, c := range []struct {
		name   string
		coords []route.Coord
		wpts   []route.Waypoint
		want   string
	}{
		{"nothing", nil, nil, "the line has fewer than two different points; export the whole line as a track"},
		{"no latitude", append(good[:2:2], route.Coord{LatDeg: nan}), nil, "point 3 is at latitude NaN, longitude 0, which is not on earth; correct or remove it"},
		{"far east", append(good[:2:2], route.Coord{LonDeg: math.Inf(1)}), nil, "point 3 is at latitude 0, longitude +Inf, which is not on earth; correct or remove it"},
		{"waypoint", good, []route.Waypoint{{LatDeg: -91}}, "waypoint 1 is at latitude -91, longitude 0, which is not on earth; correct or remove it"},
		{"too many", make([]route.Coord, route.MaxPoints+1), nil, "the line has 250001 points, more than 250000; thin out its points"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if _, err := route.New("x", c.coords, c.wpts); err == nil || err.Error() != c.want {
				t.Errorf("got  %v\nwant %s", err, c.want)
			}
		})
	}
}
