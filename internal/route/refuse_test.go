package route_test

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"

	"gritward/internal/route"
)

const two = `<trkpt lat="51.5" lon="-0.1"/><trkpt lat="51.6" lon="-0.1"/>`

func track(inner string) string { return gpx("<trk><trkseg>" + inner + "</trkseg></trk>") }

func TestReadRefuses(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"blank", " \n\t ", `the file is empty; export or download it again`},
		{"JSON", `{"type": "FeatureCollection"}`, `this is not a GPX file: it looks like JSON; export the route as GPX 1.1`},
		{"JSON with a byte order mark", "\xEF\xBB\xBF[1, 2]", `this is not a GPX file: it looks like JSON; export the route as GPX 1.1`},
		{"plain text", "lat,lon\n51,0\n", `this is not a GPX file: it looks like plain text; export the route as GPX 1.1`},
		{"binary", "<\x01\x02\x00\x00abc", `this is not a GPX file: it looks like a binary file; export the route as GPX 1.1`},
		{"zip", "PK\x03\x04rest", `this is not a GPX file: it looks like a zip archive; export the route as GPX 1.1`},
		{"gzip", "\x1f\x8b\x08\x00rest", `this is not a GPX file: it looks like a gzip archive; export the route as GPX 1.1`},
		{"PDF", "%PDF-1.7", `this is not a GPX file: it looks like a PDF document; export the route as GPX 1.1`},
		{"FIT", "\x0e\x10\x43\x08\x00\x00\x00\x00.FIT\x00", `this is not a GPX file: it looks like a FIT activity file; export the route as GPX 1.1`},
		{"web page without doctype", "<HTML><body>", `this is not a GPX file: it looks like a web page; sign in where the route is kept and download it again`},
		{"web page as XML", `<?xml version="1.0"?><html/>`, `this is not a GPX file: it looks like a web page; sign in where the route is kept and download it again`},
		{"KML", `<kml xmlns="http://www.opengis.net/kml/2.2"/>`, `this is not a GPX file: it looks like KML; export the route as GPX 1.1`},
		{"TCX", `<TrainingCenterDatabase/>`, `this is not a GPX file: it looks like TCX; export the route as GPX 1.1`},
		{"other XML", `<note/>`, `this is not a GPX file: it looks like XML with the root element "note"; export the route as GPX 1.1`},
		{"declaration alone", `<?xml version="1.0"?>`, `this is not a GPX file: it looks like XML without any element; export the route as GPX 1.1`},
		{"no line", gpx(""), `the file has no track and no route; export the line as a track`},
		{"waypoints alone", gpx(`<wpt lat="1" lon="2"/>`), `the file has waypoints but no track or route; export the line as a track`},
		{"one point", track(`<trkpt lat="1" lon="2"/>`), `the line has fewer than two different points; export the whole line as a track`},
		{"one place", track(strings.Repeat(`<trkpt lat="1" lon="2"/>`, 3)), `the line has fewer than two different points; export the whole line as a track`},
		{"too long", track(`<trkpt lat="0" lon="0"/><trkpt lat="10" lon="0"/>`), `the line is 1105.9 km long, more than 1000.0 km; look for points in the wrong place, or split it into rides`},
		{"cut short", strings.TrimSuffix(track(two), "></trkseg></trk>\n</gpx>\n"), `3:73: the file breaks off before its end; download or export it again`},
		{"root cut off", strings.TrimSuffix(track(two), "</gpx>\n"), `4:1: the file breaks off before its end; download or export it again`},
		{"crossed tags", gpx("<trk><trkseg></trk></trkseg>"), `3:20: the XML is not well-formed: element <trkseg> closed by </trk>; export the route again as GPX 1.1`},
		{"not UTF-8", gpx("<trk><name>caf\xe9</name></trk>"), `3:16: there is a byte that is not UTF-8 text; save the file as UTF-8`},
		{"unknown entity", gpx("<trk><name>a&nbsp;b</name></trk>"), `3:19: the entity "&nbsp;" is not one of XML's own; export the route again as GPX 1.1`},
		{"declared entity", "<?xml version=\"1.0\"?>\n<!DOCTYPE gpx [<!ENTITY a \"aaaa\">]>\n<gpx/>", `2:1: the file has a document type declaration (<!DOCTYPE), which is refused for safety; export the route again as GPX 1.1`},
		{"unknown encoding", `<?xml version="1.0" encoding="EBCDIC-US"?><gpx/>`, `1:43: the encoding "EBCDIC-US" is not one of those read; save the file as UTF-8`},
		{"XML 1.1", `<?xml version="1.1"?><gpx/>`, `1:22: the file cannot be read: xml: unsupported version "1.1"; only version 1.0 is supported; export the route again as GPX 1.1`},
		{"second root", track(two) + "<gpx/>", `5:1: there is more after the end of the gpx element; keep one route per file`},
		{"text after the root", track(two) + "more", `4:7: there is text after the end of the gpx element; export the route again as GPX 1.1`},
		{"no lat", track(two + "\n" + `<trkpt lon="0"/>`), `4:1: a trkpt has no lat; correct or remove the point`},
		{"no lon", track(`<trkpt lat="0"/>` + two), `3:14: a trkpt has no lon; correct or remove the point`},
		{"empty lat", track(`<trkpt lat="" lon="0"/>`), `3:14: the lat "" of a trkpt is not a decimal number; correct or remove the point`},
		{"decimal comma", track(`<trkpt lat="51,5" lon="0"/>`), `3:14: the lat "51,5" of a trkpt is not a decimal number; correct or remove the point`},
		{"NaN", track(`<trkpt lat="51" lon="NaN"/>`), `3:14: the lon "NaN" of a trkpt is not a decimal number; correct or remove the point`},
		{"infinity", track(`<trkpt lat="Inf" lon="0"/>`), `3:14: the lat "Inf" of a trkpt is not a decimal number; correct or remove the point`},
		{"beyond numbers", track(`<trkpt lat="1e999" lon="0"/>`), `3:14: the lat "1e999" of a trkpt is not a decimal number; correct or remove the point`},
		{"hexadecimal", track(`<trkpt lat="0x1p4" lon="0"/>`), `3:14: the lat "0x1p4" of a trkpt is not a decimal number; correct or remove the point`},
		{"north of the pole", track(`<trkpt lat="90.001" lon="0"/>`), `3:14: the lat "90.001" of a trkpt is outside -90 to 90 degrees; correct or remove the point`},
		{"east of the date line", gpx(`<rte><rtept lat="9" lon="180.5"/></rte>`), `3:6: the lon "180.5" of a rtept is outside -180 to 180 degrees; correct or remove the point`},
		{"waypoint nowhere", gpx(`<wpt lat="x" lon="0"/>`), `3:1: the lat "x" of a wpt is not a decimal number; correct or remove the point`},
		{"nested too deep", gpx("<extensions>" + strings.Repeat("<a>", 70)), `3:202: elements are nested more than 64 deep; export the route again as GPX 1.1`},
	} {
		t.Run(c.name, func(t *testing.T) {
			refused(t, strings.NewReader(c.text), c.want)
		})
	}
}

// The files of the reference set that must be refused, or may be.
func TestReadRefusesFiles(t *testing.T) {
	for file, want := range map[string]string{
		"synthetic_empty.gpx":           `the file is empty; export or download it again`,
		"synthetic_html.gpx":            `this is not a GPX file: it looks like a web page; sign in where the route is kept and download it again`,
		"synthetic_out_of_range.gpx":    `6:1: the lat "91.0" of a trkpt is outside -90 to 90 degrees; correct or remove the point`,
		"synthetic_external_entity.gpx": `2:1: the file has a document type declaration (<!DOCTYPE), which is refused for safety; export the route again as GPX 1.1`,
	} {
		t.Run(file, func(t *testing.T) {
			f, err := os.Open(filepath.Join(files, file))
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			refused(t, f, want)
		})
	}
}

func refused(t *testing.T, in io.Reader, want string) {
	t.Helper()
	r, err := route.Read(in)
	if err == nil {
		t.Fatalf("read %d points, want: %s", len(r.Points), want)
	}
	var own *route.Error
	if err.Error() != want || !errors.As(err, &own) {
		t.Fatalf("got  %v (%T)\nwant %s", err, err, want)
	}
}

// endless gives a text over and over, and counts what is taken of it.
type endless struct {
	head, text string
	taken      int
}

func (e *endless) Read(p []byte) (int, error) {
	for i := range p {
		if k := e.taken + i; k < len(e.head) {
			p[i] = e.head[k]
		} else {
			p[i] = e.text[(k-len(e.head))%len(e.text)]
		}
	}
	e.taken += len(p)
	return len(p), nil
}

func TestReadStopsEarlyOnEndlessFiles(t *testing.T) {
	const open = `<gpx><trk><trkseg>`
	for _, c := range []struct {
		name, head, text, want string
		most                   int // bytes taken
	}{
		{"extensions", "<gpx>", "<extensions>" + strings.Repeat("more of the same ", 100) + "</extensions>\n", "19441:988: the file is larger than 32 MB; thin out its points or split it into rides", route.MaxBytes + 1<<16},
		{"points", open, "<trkpt lat='1' lon='2'/>", "1:6000019: the file has more than 250000 points; thin out its points or split it into rides", 7 << 20},
		{"one text", "<gpx><name>", "abc ", "1:1056769: one tag or text is longer than 1 MB; export the route again as GPX 1.1", 2 << 20},
		{"one tag", "<gpx><trk", " a='1'", "1:1056769: one tag or text is longer than 1 MB; export the route again as GPX 1.1", 2 << 20},
		{"nesting", "<gpx>", "<a>", "1:198: elements are nested more than 64 deep; export the route again as GPX 1.1", 1 << 16},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := &endless{head: c.head, text: c.text}
			refused(t, in, c.want)
			if in.taken > c.most {
				t.Errorf("%d bytes taken, want at most %d", in.taken, c.most)
			}
		})
	}
}

func TestReadPassesOnErrorsOfTheReader(t *testing.T) {
	broken := errors.New("cable pulled")
	whole := track(two)
	for _, n := range []int{0, 5, 100} {
		in := io.MultiReader(strings.NewReader(whole[:n]), iotest.ErrReader(broken))
		if _, err := route.Read(in); err == nil || !strings.Contains(err.Error(), "cable pulled") {
			t.Errorf("after %d bytes: got %v", n, err)
		}
	}
}

// A file cut off anywhere must be refused, but for the line end after it.
func TestReadRefusesEveryTruncation(t *testing.T) {
	text := strings.TrimSpace(gpx(`<wpt lat="52" lon="1"><name>x</name></wpt><trk>` + seg(0, 5) + seg(6, 10) + `</trk><rte>` + pts("rtept", 0, 10) + `</rte>`))
	mustRead(t, text)
	for n := range len(text) {
		if r, err := route.Read(strings.NewReader(text[:n])); err == nil {
			t.Fatalf("cut after %d of %d bytes: read %d points", n, len(text), len(r.Points))
		}
	}
}
