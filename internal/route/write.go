package route

import (
	"bufio"
	"encoding/xml"
	"io"
	"math"
	"strconv"
	"time"
)

// Track is the line as somebody rides it, to be written as one track.
type Track struct {
	Name, Desc string // may be empty
	// At is when each point of the line is reached, as long as the line; empty: no times.
	At []time.Time
	// Halts are where the ride stands still, in order along the line.
	Halts []Halt
}

// Halt is a stop on the way: a point of its own, when it is reached and again when it is left.
type Halt struct {
	Name        string
	DistM       float64 // metres along the line
	From, Leave time.Time
}

// Write writes the measured line as GPX 1.1: its waypoints, and one track for
// each of tracks; without any, one track without times. Points, segments and
// waypoints are those of r: what was left out on reading stays out. Elevations
// are as read, as a reader smooths again; where unknown none is written. Times
// are UTC to the second, as the schema asks. The error is the writer's.
//
// Element order, the forms of numbers and the range of longitudes follow
// http://www.topografix.com/GPX/1/1/gpx.xsd.
func Write(w io.Writer, r *Route, tracks []Track) error {
	out := &gpxWriter{Writer: bufio.NewWriter(w)}
	out.put(xml.Header + `<gpx version="1.1" creator="gritward" xmlns="http://www.topografix.com/GPX/1/1">` + "\n")
	if r.Name != "" {
		out.put("<metadata>")
		out.words("name", r.Name)
		out.put("</metadata>\n")
	}
	for _, p := range r.Waypoints {
		out.open("wpt", p.LatDeg, p.LonDeg)
		out.words("name", p.Name)
		out.words("desc", p.Desc)
		out.words("type", p.Type)
		out.put("</wpt>\n")
	}
	if len(tracks) == 0 {
		tracks = []Track{{Name: r.Name}}
	}
	for _, t := range tracks {
		out.track(r, t)
	}
	out.put("</gpx>\n")
	return out.Flush()
}

// gpxWriter writes pieces; an error of the writer beneath is kept until Flush.
type gpxWriter struct{ *bufio.Writer }

func (w *gpxWriter) put(s string) { _, _ = w.WriteString(s) } // told by Flush

// words writes an element of text, none for none.
func (w *gpxWriter) words(name, text string) {
	if text == "" {
		return
	}
	w.put("<" + name + ">")
	_ = xml.EscapeText(w, []byte(text)) // told by Flush
	w.put("</" + name + ">")
}

// open begins a point.
func (w *gpxWriter) open(name string, lat, lon float64) {
	if lon >= 180 {
		lon -= 360 // the schema's longitudes end below 180
	}
	w.put("<" + name + ` lat="` + degreesText(lat) + `" lon="` + degreesText(lon) + `">`)
}

func (w *gpxWriter) track(r *Route, t Track) {
	w.put("<trk>")
	w.words("name", t.Name)
	w.words("desc", t.Desc)
	w.put("<trkseg>\n")
	halts := t.Halts
	for i, p := range r.Points {
		for len(halts) > 0 && halts[0].DistM < p.DistM {
			w.halt(r, halts[0])
			halts = halts[1:]
		}
		if p.NewSegment {
			w.put("</trkseg><trkseg>\n")
		}
		at := time.Time{}
		if i < len(t.At) {
			at = t.At[i]
		}
		w.point(p.LatDeg, p.LonDeg, p.ElevM, at, "")
	}
	for _, h := range halts {
		w.halt(r, h)
	}
	w.put("</trkseg></trk>\n")
}

// halt writes where a stop begins and ends.
func (w *gpxWriter) halt(r *Route, h Halt) {
	lat, lon := r.At(h.DistM)
	i, share := r.leg(h.DistM)
	elev := r.Points[i].ElevM + share*(r.Points[i+1].ElevM-r.Points[i].ElevM) // NaN next to an unknown one
	for _, at := range []time.Time{h.From, h.Leave} {
		w.point(lat, lon, elev, at, h.Name)
	}
}

func (w *gpxWriter) point(lat, lon, elev float64, at time.Time, name string) {
	w.open("trkpt", lat, lon)
	if !math.IsNaN(elev) {
		w.words("ele", strconv.FormatFloat(elev, 'f', -1, 64))
	}
	if !at.IsZero() {
		w.words("time", at.Round(time.Second).UTC().Format(time.RFC3339))
	}
	w.words("name", name)
	w.put("</trkpt>\n")
}

// degreesText writes a coordinate in full, never with an exponent, which the schema's decimals do not have.
func degreesText(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
