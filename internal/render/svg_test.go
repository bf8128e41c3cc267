package render_test

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"gritward/internal/render"
	"gritward/internal/render/rostertest"
	pb "gritward/proto/gritward/v1"

	"github.com/mattn/go-runewidth"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"
)

// drawnText is a text of the picture where it stands.
type drawnText struct {
	x, y, size, width float64
	text              string
}

// xmlTexts parses a picture as XML and gives its texts, x being their left ends. The width of a text is taken as 0.5 em for each column, about the
// mean of the sans-serif faces in common use (common practice, no source).
func xmlTexts(t interface{ Fatal(...any) }, doc string) (texts []drawnText) {
	d := xml.NewDecoder(strings.NewReader(doc))
	size := 0.0
	for {
		token, err := d.Token()
		if token == nil {
			if err.Error() != "EOF" {
				t.Fatal(err)
			}
			return texts
		}
		start, ok := token.(xml.StartElement)
		if !ok || start.Name.Local != "text" && start.Name.Local != "svg" {
			continue
		}
		v, anchor := map[string]float64{"font-size": size}, 0.0
		for _, a := range start.Attr {
			if f, err := strconv.ParseFloat(a.Value, 64); err == nil {
				v[a.Name.Local] = f
			}
			if a.Name.Local == "text-anchor" {
				anchor = map[string]float64{"middle": 0.5, "end": 1}[a.Value]
			}
		}
		if start.Name.Local == "svg" {
			size = v["font-size"]
			continue
		}
		var s string
		if err := d.DecodeElement(&s, &start); err != nil {
			t.Fatal(err)
		}
		width := 0.5 * v["font-size"] * float64(runewidth.StringWidth(s))
		texts = append(texts, drawnText{v["x"] - anchor*width, v["y"], v["font-size"], width, s})
	}
}

func overlap(texts []drawnText) error {
	for i, a := range texts {
		if a.x < 0 || a.x+a.width > 721 {
			return fmt.Errorf("%q runs off the picture", a.text)
		}
		for _, b := range texts[i+1:] {
			// Letters reach about 0.75 em above the line and 0.2 em below.
			if a.x < b.x+b.width && b.x < a.x+a.width && a.y-0.75*a.size < b.y+0.2*b.size && b.y-0.75*b.size < a.y+0.2*a.size {
				return fmt.Errorf("%q lies over %q", a.text, b.text)
			}
		}
	}
	return nil
}

func TestSVGForm(t *testing.T) {
	for _, name := range rostertest.Names() {
		doc := svg(t, issue(t, name))
		if err := overlap(xmlTexts(t, doc)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		for _, want := range []string{`role="img"`, "<title id=", "<desc id=", `viewBox="0 0 720`} {
			if !strings.Contains(doc, want) {
				t.Errorf("%s: the picture lacks %s", name, want)
			}
		}
	}
}

func TestSVGTellsTheLight(t *testing.T) {
	doc := svg(t, issue(t, "winter-run"))
	for _, want := range []string{"lights from 15:21", "sunset, dark begins 15:51", "twilight ends 16:31", "url(#light-lit)", "url(#light-dark)", "Cold Barrow and back by the mill, Saturday 12 December 2015<",
		"Touring: 11:20 to 16:22, home 32 min after dark begins; lights for 1 h 2 min, 32 min of it dark; stop 13:46 to 14:11 Mill tea room"} {
		if !strings.Contains(doc, want) {
			t.Errorf("the picture does not tell %q", want)
		}
	}
	if byDay := svg(t, issue(t, "night-lake")); strings.Contains(byDay, ">sunset") {
		t.Error("a night ride shows a sunset hours before its start")
	}
}

// crowd draws a plan of up to ten groups with long names and short rides around a day's events.
func crowd(t *rapid.T) *pb.RidePlan {
	minute := func(from, to int) *timestamppb.Timestamp {
		at := time.Date(2015, 12, 12, 0, rapid.IntRange(from, to).Draw(t, "minute"), 0, 0, time.UTC)
		return timestamppb.New(at)
	}
	p := &pb.RidePlan{CivilDawnAt: minute(400, 440), SunriseAt: minute(441, 480), SunsetAt: minute(940, 960), CivilDuskAt: minute(961, 1000),
		DarkBeginsAt: minute(930, 1000), DarkEndsAt: minute(400, 480), Margin: durationpb.New(30 * time.Minute)}
	title := rapid.SampledFrom([]string{"A", "Steady", "MWMWMW MWMWMW MWMWMW MWMWMW MWMWMW", "夜の組夜の組夜の組夜の組夜の組夜の組夜の組夜の組", strings.Repeat("along the water ", 30)})
	for range rapid.IntRange(1, 10).Draw(t, "groups") {
		start := rapid.IntRange(300, 1000).Draw(t, "start")
		home := start + rapid.IntRange(1, 600).Draw(t, "length")
		g := &pb.GroupPlan{Title: title.Draw(t, "title"), StartAt: minute(start, start), HomeAt: minute(home, home)}
		if margin := float64(955 - home); rapid.Bool().Draw(t, "margin") {
			g.MarginMin = &margin
			g.LatestStartAt = minute(start, start+20)
		}
		for range rapid.IntRange(0, 5).Draw(t, "stops") {
			at := rapid.IntRange(start, home).Draw(t, "stop")
			g.Points = append(g.Points, &pb.PlanPoint{At: minute(at, at), LeavesAt: minute(at+1, at+30), What: title.Draw(t, "stop title")})
		}
		p.Groups = append(p.Groups, g)
	}
	return p
}

func TestSVGLabelsApart(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var b bytes.Buffer
		if err := render.PlanSVG(&b, crowd(rt), "Europe/London"); err != nil {
			rt.Fatal(err)
		}
		if err := overlap(xmlTexts(rt, b.String())); err != nil {
			rt.Fatalf("%v\n%s", err, b.String())
		}
	})
}

func TestSVGRandom(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var b bytes.Buffer
		if err := render.SVG(&b, rostertest.Random(rt)); err != nil {
			rt.Fatal(err)
		}
		if !utf8.Valid(b.Bytes()) || strings.Contains(b.String(), "NaN") || strings.Contains(b.String(), `="-`) {
			rt.Fatalf("numbers or text are off:\n%s", b.String())
		}
		xmlTexts(rt, b.String())
	})
}

func BenchmarkSVG(b *testing.B) {
	r := issue(b, "winter-run")
	for b.Loop() {
		svg(b, r)
	}
}
