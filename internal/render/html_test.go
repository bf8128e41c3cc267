package render_test

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"testing"

	"gritward/internal/render"
	"gritward/internal/render/rostertest"
	pb "gritward/proto/gritward/v1"

	nethtml "golang.org/x/net/html"
	"pgregory.net/rapid"
)

// page is a parsed page.
type page struct {
	elements []*nethtml.Node
	text     string
}

func parse(t interface{ Fatal(...any) }, doc string) page {
	root, err := nethtml.Parse(strings.NewReader(doc))
	if err != nil {
		t.Fatal(err)
	}
	var p page
	var words strings.Builder
	for n := range root.Descendants() {
		switch n.Type {
		case nethtml.ElementNode:
			p.elements = append(p.elements, n)
		case nethtml.TextNode:
			words.WriteString(n.Data)
		}
	}
	p.text = words.String()
	return p
}

func attr(n *nethtml.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

func (p page) all(tag string) (out []*nethtml.Node) {
	for _, n := range p.elements {
		if n.Data == tag {
			out = append(out, n)
		}
	}
	return out
}

// unbalanced are tags that are opened and not closed, or the other way round: the parser of HTML mends them silently.
func unbalanced(doc string) error {
	var open []string
	z := nethtml.NewTokenizer(strings.NewReader(doc))
	for {
		switch z.Next() {
		case nethtml.ErrorToken:
			if len(open) > 0 {
				return fmt.Errorf("never closed: %v", open)
			}
			return nil
		case nethtml.StartTagToken:
			name, _ := z.TagName()
			if tag := string(name); tag != "meta" && tag != "br" {
				open = append(open, tag)
			}
		case nethtml.EndTagToken:
			name, _ := z.TagName()
			if len(open) == 0 || open[len(open)-1] != string(name) {
				return fmt.Errorf("</%s> closes %v", name, open)
			}
			open = open[:len(open)-1]
		}
	}
}

// TestHTMLForm checks what WCAG 2.2 asks of the page's structure (1.3.1 relationships, 1.1.1 text alternatives, 2.4.6
// headings, 3.1.1 language), and that nothing is loaded or run.
func TestHTMLForm(t *testing.T) {
	for _, name := range rostertest.Names() {
		t.Run(name, func(t *testing.T) {
			doc := html(t, issue(t, name))
			if err := unbalanced(doc); err != nil {
				t.Error(err)
			}
			p := parse(t, doc)
			checkForm(t, p)
			for _, want := range []string{"<!DOCTYPE html>", `<html lang="en">`, "default-src 'none'; style-src 'unsafe-inline'", "@media print", "@page"} {
				if !strings.Contains(doc, want) {
					t.Errorf("the page lacks %q", want)
				}
			}
		})
	}
}

func checkForm(t interface {
	Errorf(string, ...any)
	Fatal(...any)
}, p page) {
	level, ids := 0, map[string]bool{}
	for _, n := range p.elements {
		switch n.Data {
		case "script", "link", "img", "iframe", "object", "embed", "base", "form", "image", "foreignobject":
			t.Errorf("the page has a <%s>", n.Data)
		case "h1", "h2", "h3", "h4":
			next := int(n.Data[1] - '0')
			if next > level+1 {
				t.Errorf("<%s> follows a heading of level %d", n.Data, level)
			}
			level = next
		case "th":
			if attr(n, "scope") == "" {
				t.Errorf("a <th> has no scope")
			}
		}
		for _, a := range n.Attr {
			if strings.HasPrefix(a.Key, "on") || a.Key == "src" || a.Key == "href" && !strings.HasPrefix(a.Val, "#") {
				t.Errorf("<%s> has %s=%q", n.Data, a.Key, a.Val)
			}
			if a.Key == "id" && ids[a.Val] {
				t.Errorf("id %q is used twice", a.Val)
			}
			if a.Key == "id" {
				ids[a.Val] = true
			}
		}
	}
	for _, n := range p.elements {
		for _, id := range append(strings.Fields(attr(n, "aria-labelledby")), strings.TrimPrefix(attr(n, "href"), "#")) {
			if id != "" && !ids[id] {
				t.Errorf("<%s> points to #%s, which is not there", n.Data, id)
			}
		}
	}
	for _, tag := range []string{"header", "main", "footer", "h1"} {
		if n := len(p.all(tag)); n != 1 {
			t.Errorf("the page has %d <%s>", n, tag)
		}
	}
	for _, n := range p.all("svg") {
		if attr(n, "role") != "img" || attr(n, "aria-labelledby") == "" {
			t.Errorf("the picture has no role or name")
		}
	}
}

func TestHTMLNamesEverybody(t *testing.T) {
	for _, name := range rostertest.Names() {
		r := issue(t, name)
		p := parse(t, html(t, r))
		for _, rider := range rostertest.Riders(r) {
			if !strings.Contains(p.text, rider) {
				t.Errorf("%s: %s is not on the page", name, rider)
			}
		}
	}
}

func TestHTMLStandingsInWordAndShape(t *testing.T) {
	p := parse(t, html(t, issue(t, "winter-run")))
	for _, want := range []string{"○ clear", "△ advice: chain", "▼ sent to the back: guards", "■ held: rear light",
		"Those sent to the back ride from here, others beside them"} {
		if !strings.Contains(p.text, want) {
			t.Errorf("the page does not tell %q", want)
		}
	}
	for _, d := range p.all("details") {
		if attr(d, "open") == "" && len(d.Attr) == 0 {
			t.Error("findings are folded away")
		}
	}
}

func TestHTMLHostile(t *testing.T) {
	for _, s := range rostertest.Hostile() {
		r := issue(t, "winter-run")
		r.ClubTitle, r.Zone, r.Digest, r.PolicyTitle, r.LeaderName = s, s, s, s, s
		r.Ride.Title, r.Ride.MeetingPoint, r.Ride.LeaderPhone = s, s, s
		g := r.Placement.Groups[0]
		g.Title, g.Plan.Title, g.Group, g.Rows[0].Left.DisplayName, g.Rows[0].Left.BikeTitle = s, s, s, s, s
		g.Rows[1].Left.Findings[0].Remedy = s
		r.Brief.Sections[0].Id, r.Brief.Sections[0].Title, r.Brief.Sections[0].Lines[0] = s, s, s
		doc := html(t, r)
		if err := unbalanced(doc); err != nil {
			t.Errorf("%.40q: %v", s, err)
		}
		p := parse(t, doc)
		checkForm(t, p)
		if s != "" && !strings.Contains(p.text, render.Clean(s)) {
			t.Errorf("%.40q is not told on the page", s)
		}
	}
}

func TestRandomRosters(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := rostertest.Random(rt)
		var b bytes.Buffer
		if err := render.HTML(&b, r); err != nil {
			rt.Fatal(err)
		}
		if err := unbalanced(b.String()); err != nil {
			rt.Fatal(err)
		}
		checkForm(rt, parse(rt, b.String()))
		for _, out := range []func() error{
			func() error { return render.Text(&b, r, render.TextOptions{Colour: true, Width: 40}) },
			func() error { return render.PlanText(&b, r.GetPlan(), r.GetZone(), render.TextOptions{}) },
		} {
			if err := out(); err != nil {
				rt.Fatal(err)
			}
		}
	})
}

func TestNearlyEmpty(t *testing.T) {
	for name, r := range map[string]*pb.Roster{
		"nil": nil, "empty": {}, "no ride": {Placement: &pb.Placement{Groups: []*pb.RosterGroup{{}}}},
		"nil parts": {Placement: &pb.Placement{
			Groups: []*pb.RosterGroup{nil, {Rows: []*pb.Row{nil, {}, {Right: &pb.Rider{}}}}}, Idle: []*pb.IdleGroup{nil}, Unplaced: []*pb.Unplaced{nil},
			Overrides: []*pb.Override{nil}, Fixed: []*pb.Fixed{nil}, Conflicts: []*pb.Conflict{nil}, Moved: []*pb.Move{nil},
		}, Plan: &pb.RidePlan{Groups: []*pb.GroupPlan{nil}}, Brief: &pb.Brief{Sections: []*pb.BriefSection{nil, {Urgent: true}}}},
	} {
		t.Run(name, func(t *testing.T) {
			p := parse(t, html(t, r))
			checkForm(t, p)
			if out := text(t, r, render.TextOptions{}); !strings.Contains(out, "Club without a title") {
				t.Errorf("text does not say that the club is not known:\n%s", out)
			}
			xmlTexts(t, svg(t, r))
		})
	}
}

type broken struct{ err error }

func (b broken) Write([]byte) (int, error) { return 0, b.err }

func TestWriterErrors(t *testing.T) {
	r, full := issue(t, "winter-run"), errors.New("disk full")
	for name, err := range map[string]error{
		"HTML": render.HTML(broken{full}, r), "SVG": render.SVG(broken{full}, r),
		"Text":           render.Text(broken{full}, r, render.TextOptions{}),
		"PlanText":       render.PlanText(broken{full}, r.Plan, r.Zone, render.TextOptions{}),
		"AssessmentText": render.AssessmentText(broken{full}, nil, render.Titles{}, render.TextOptions{}),
	} {
		if !errors.Is(err, full) {
			t.Errorf("%s gave %v, want the writer's error", name, err)
		}
	}
}

func BenchmarkHTML(b *testing.B) {
	r := issue(b, "winter-run")
	for b.Loop() {
		html(b, r)
	}
}

// Of whom no conflict tells is said, and not with an empty list.
func TestConflictsUntold(t *testing.T) {
	r := &pb.Roster{Placement: &pb.Placement{ConflictsUntold: 3}}
	const want = "For 3 riders without a place it would have taken too long to find what cannot hold together."
	if out := text(t, r, render.TextOptions{Width: 200}); !strings.Contains(out, want) {
		t.Errorf("not told in the text:\n%s", out)
	}
	page := html(t, r)
	if got := strings.ReplaceAll(string(page), "\u00a0", " "); !strings.Contains(got, want) || strings.Contains(got, "<ul></ul>") {
		t.Errorf("not told on the page:\n%s", got)
	}
}
