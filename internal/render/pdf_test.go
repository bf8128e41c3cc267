package render_test

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"gritward/internal/brief"
	"gritward/internal/render"
	"gritward/internal/render/rostertest"
	pb "gritward/proto/gritward/v1"

	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"
)

const pageURL = "https://rides.example/clubs/hollow-lane/rides/2015-12-12-cold-barrow/rosters/2"

func pdf(t testing.TB, r *pb.Roster, groups ...string) ([]byte, render.Sheets) {
	t.Helper()
	var b bytes.Buffer
	drawn, err := render.PDF(&b, r, groups...)
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes(), drawn
}

var pageObject = regexp.MustCompile(`/Type /Page\b`)

// longNames are twelve names as long as the club takes them (60 characters), in three scripts.
func longNames() []string {
	var out []string
	for i := range 12 {
		name := []string{
			"Wilhelmina-Alexandrina Featherstonehaugh-Cholmondeley the", "Κωνσταντίνος-Παναγιώτης Παπαδημητρακόπουλος-Χατζηγεωργίου",
			"Александра-Екатерина Преображенская-Вознесенская из Верх",
		}[i%3]
		out = append(out, fmt.Sprintf("%s %d", name, 10+i))
	}
	return out
}

// twelve is the roster of the winter run with one group of as many riders as the shipped policy lets ride together, the
// last four sent to the back.
func twelve(t testing.TB, names []string) *pb.Roster {
	r := rostertest.Load(t, "winter-run")
	g := r.Placement.Groups[1]
	findings := g.Rows[len(g.Rows)-2].Left.Findings
	g.Rows = nil
	for i, name := range names {
		rider := &pb.Rider{Member: fmt.Sprintf("clubs/hollow-lane/members/m%d", i), DisplayName: name, BikeTitle: "winter bike", Standing: pb.Standing_CLEAR}
		if i >= len(names)-4 && i > 0 {
			rider.Standing, rider.Findings = pb.Standing_BACK, findings
		}
		if i%2 == 0 {
			g.Rows = append(g.Rows, &pb.Row{Left: rider})
		} else {
			g.Rows[len(g.Rows)-1].Right = rider
		}
	}
	g.Rows[0].Left.Leads, g.Leader = true, g.Rows[0].Left.Member
	last := g.Rows[len(g.Rows)-1]
	marks := last.Left
	if last.Right != nil {
		marks = last.Right
	}
	marks.MarksBack, g.BackMarker = true, marks.Member
	r.Placement.Groups, r.PageUrl = []*pb.RosterGroup{g}, pageURL
	r.Brief = brief.Compose(r)
	return r
}

// TestOnePageAGroup holds that a group fits its page, also one of twelve with names as long as may be.
func TestOnePageAGroup(t *testing.T) {
	rosters := map[string]*pb.Roster{"twelve": twelve(t, longNames()),
		"one rider": twelve(t, []string{"Ann Aske"})}
	for _, name := range rostertest.Names() {
		rosters[name] = issue(t, name)
		rosters[name].PageUrl = pageURL
	}
	for name, r := range rosters {
		data, drawn := pdf(t, r)
		want := len(r.Placement.Groups)
		if got := len(pageObject.FindAll(data, -1)); got != want || drawn.Pages != want || len(drawn.Groups) != want {
			t.Errorf("%s: %d pages, told %v; want a page for each of %d groups", name, got, drawn, want)
		}
	}
}

// TestOverleaf has more to tell than fits a page: it goes on overleaf, and nothing is left out (see TestPDFReadBack).
func TestOverleaf(t *testing.T) {
	for name, r := range overfull(t) {
		data, drawn := pdf(t, r)
		if got := len(pageObject.FindAll(data, -1)); got < 2 || got != drawn.Pages {
			t.Errorf("%s: %d pages, told %d; want more than one", name, got, drawn.Pages)
		}
	}
}

// overfull are rosters that a page has no room for.
func overfull(t testing.TB) map[string]*pb.Roster {
	return map[string]*pb.Roster{"crowded": crowded(t), "sixty wide": twelve(t, slices.Repeat([]string{strings.Repeat("W", 60)}, 12))}
}

// crowded is a group with all that the protocol takes: 50 hazards of 200 characters, 20 ways out, 10 stops, notes of 300.
func crowded(t testing.TB) *pb.Roster {
	r := twelve(t, longNames())
	for i := range 50 {
		r.Ride.Hazards = append(r.Ride.Hazards, &pb.PlaceNote{AtDistanceM: float64(i) * 1000, What: fmt.Sprintf("Hazard %d ", i) + strings.Repeat("rut and gravel ", 12)})
	}
	for i := range 20 {
		r.Ride.WaysOut = append(r.Ride.WaysOut, &pb.PlaceNote{AtDistanceM: float64(i) * 1000, What: fmt.Sprintf("Way %d ", i) + strings.Repeat("x", 190)})
	}
	for i := range 8 {
		r.Ride.Stops = append(r.Ride.Stops, &pb.Stop{Title: fmt.Sprintf("Stop %d ", i) + strings.Repeat("m", 50), AtDistanceM: float64(i) * 2000, Minutes: 5})
	}
	for i := range 5 {
		r.Placement.Groups[0].Notes = append(r.Placement.Groups[0].Notes, fmt.Sprintf("Note %d ", i)+strings.Repeat("as agreed with both of them ", 11))
	}
	r.Brief = brief.Compose(r)
	return r
}

func TestPDFSameTwice(t *testing.T) {
	r := twelve(t, longNames())
	first, _ := pdf(t, r)
	for range 10 { // maps change their order
		if again, _ := pdf(t, proto.Clone(r).(*pb.Roster)); !bytes.Equal(first, again) {
			t.Fatal("the same roster gave two different files")
		}
	}
	r.Number++
	if other, _ := pdf(t, r); bytes.Equal(first, other) {
		t.Error("another issue gave the same file")
	}
}

func TestPDFGroups(t *testing.T) {
	r := issue(t, "winter-run")
	if _, drawn := pdf(t, r, "touring", "brisk"); !slices.Equal(drawn.Groups, []string{"touring", "brisk"}) || drawn.Pages != 2 {
		t.Errorf("drawn %v", drawn)
	}
	for name, c := range map[string]struct {
		roster *pb.Roster
		group  []string
		want   string
	}{
		"unknown": {r, []string{"fast"}, `no group "fast" runs; those that run are brisk, steady, touring`},
		"idle":    {r, []string{"training"}, `no group "training" runs`},
		"nil":     {nil, nil, "no group runs by this roster"},
		"nobody":  {&pb.Roster{Placement: &pb.Placement{}}, nil, "no group runs by this roster"},
	} {
		var b bytes.Buffer
		if _, err := render.PDF(&b, c.roster, c.group...); err == nil || !strings.Contains(err.Error(), c.want) || b.Len() > 0 {
			t.Errorf("%s: %v after %d bytes, want %q and nothing", name, err, b.Len(), c.want)
		}
	}
	full := errors.New("disk full")
	if _, err := render.PDF(broken{full}, r); !errors.Is(err, full) {
		t.Errorf("gave %v, want the writer's error", err)
	}
}

func TestUnprinted(t *testing.T) {
	for name, want := range map[string]string{
		"Ștefan Ćosić-Ørsted ẞ": "", "Ξένια Ώχρα": "", "Ґалаґан Їжакевич": "", "Երևան": "", "თამარ": "", "e\u0301lan": "",
		"夜の湖": "U+591C U+306E U+6E56", "🚲": "U+1F6B2", "שלום": "U+05E9", "سلام": "U+0633", "नमस्ते": "U+0928",
		strings.Repeat("一丁七万三上下不与丐丑", 5): "U+4E0D and 3 more",
	} {
		_, drawn := pdf(t, twelve(t, []string{name, "Ben Bole"}))
		if (want == "") != (drawn.Unprinted == "") || !strings.Contains(drawn.Unprinted, want) {
			t.Errorf("%s: told %q, want %q in it", name, drawn.Unprinted, want)
		}
	}
}

func TestPDFHostile(t *testing.T) {
	for _, s := range rostertest.Hostile() {
		r := twelve(t, []string{s, s, s, s})
		r.ClubTitle, r.Zone, r.Digest, r.LeaderName, r.PageUrl = s, s, s, s, s
		r.Ride.Title, r.Ride.MeetingPoint, r.Ride.LeaderPhone = s, s, s
		g := r.Placement.Groups[0]
		g.Title, g.Group, g.Notes = s, s, []string{s}
		r.Brief = brief.Compose(r)
		pdf(t, r)
	}
	odd := twelve(t, []string{"Ann"})
	odd.Placement.Groups[0].Plan.PaceKmh, odd.Ride.Stops[0].AtDistanceM = math.NaN(), math.Inf(1)
	pdf(t, odd)
}

func TestPDFRandom(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := rostertest.Random(rt)
		var b bytes.Buffer
		running := r.GetPlacement().GetGroups()
		drawn, err := render.PDF(&b, r)
		if (err == nil) != (len(running) > 0) || len(drawn.Groups) != len(running) {
			rt.Fatalf("%d groups: %v, %v", len(running), drawn, err)
		}
	})
}

func BenchmarkPDF(b *testing.B) {
	r := twelve(b, longNames())
	for b.Loop() {
		pdf(b, r)
	}
}
