//go:build browser

package web_test

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"gritward/internal/demo"
	pb "gritward/proto/gritward/v1"
)

// TestBrowserPrintsRoster prints a roster as chromium does, and reads the sheets back with pdfinfo and pdftotext: each group is on
// a page of its own, whole.
func TestBrowserPrintsRoster(t *testing.T) {
	w := newWorld(t)
	w.grown(44, 40)
	issue, err := w.rides().GetRoster(w.as(demo.Leader), &pb.GetRosterRequest{Name: w.ride() + "/rosters/-"})
	if err != nil {
		t.Fatal(err)
	}
	b := w.tabOf(t, "leader", phone, true).signIn(demo.Leader)
	b.open("/" + w.ride() + "/rosters/-")
	file, text := b.printed("roster")
	about, err := exec.Command("pdfinfo", file).Output()
	if err != nil {
		t.Fatalf("pdfinfo: %v", err)
	}
	if !regexp.MustCompile(`Page size:\s+59[45]\.?\d* x 84[12]\.?\d* pts`).Match(about) {
		t.Errorf("the sheets are not of A4: %s", about)
	}
	sheets := strings.Split(strings.TrimRight(text, "\f"), "\f")
	groups := issue.Placement.Groups
	front := 0 // pages before the groups: what changed may take more than one
	for front < len(sheets) && !strings.Contains(sheets[front], "Riding order") {
		front++
	}
	if front+len(groups) >= len(sheets) || len(sheets) > front+len(groups)+3 {
		t.Fatalf("%d groups are printed on %d pages, %d of them before", len(groups), len(sheets), front)
	}
	for i, group := range groups {
		sheet := strings.Join(strings.Fields(sheets[front+i]), " ")
		said := issue.Brief.Spoken[i].Sentences
		last := strings.Fields(said[len(said)-1])
		for _, want := range []string{group.Title + " ", "Riding order", "leads", "back marker", last[len(last)-2] + " " + last[len(last)-1]} {
			if !strings.Contains(sheet, want) {
				t.Errorf("the sheet of %s does not say %q: %s", group.Title, want, sheet)
			}
		}
	}
}

// TestBrowserWatchesRoster has a page learn of the next issue by itself.
func TestBrowserWatchesRoster(t *testing.T) {
	w := newWorld(t)
	b := w.tabOf(t, "member", phone, true).signIn(demo.Member)
	b.open("/" + w.ride() + "/rosters/1").says("the newest").checked("roster").dark().checked("roster at night")
	w.changeRide(&pb.Ride{MeetingPoint: "The lower weighbridge"}, "meeting_point")
	b.waits("Changed since this issue:")
	if _, err := w.rides().PublishRoster(w.as(demo.Leader), &pb.PublishRosterRequest{Parent: w.ride()}); err != nil {
		t.Fatal(err)
	}
	b.waits("Issue 2 has come").follow("look at issue 2").says("The lower weighbridge")
	b.open("/" + w.ride()).checked("ride")
}

// TestBrowserFoldsRoster: on a phone a rider's own group is open, other groups and the long parts are folded, each with its gist; a
// link opens what it names, with script and without; and on paper everything stands.
func TestBrowserFoldsRoster(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	const own, other, law = "Lowen Sparke rides alone", "Bashir Quill rides alone", "Agree on the calls for traffic"
	shown := func(b *tab, words string) bool { return strings.Contains(b.text(), words) }
	for _, script := range []bool{true, false} {
		b := w.tabOf(t, "member", phone, script).signIn(demo.Member)
		b.open("/"+w.ride()+"/rosters/1").says("Your place", own, "leader Maren Tull", "A charged telephone")
		if shown(b, other) || shown(b, law) {
			t.Error("nothing is folded")
		}
		if tall := eval[int](b, "document.documentElement.scrollHeight"); tall > 5500 {
			t.Errorf("folded, it is %d px tall", tall)
		}
		b.does(chromedp.Click(chromedp.CSS("a[href='#group-3']")))
		b.waits(other)
		b.open("/" + w.ride()).open("/" + w.ride() + "/rosters/1#route").until(`document.querySelector("#route svg").checkVisibility()`)
		if top := eval[int](b, `document.querySelector("#route-name").getBoundingClientRect().top | 0`); top < 0 || top > 400 {
			t.Errorf("what the link names stands at %d px", top)
		}
	}
	b := w.tabOf(t, "member", phone, true).signIn(demo.Member)
	_, text := b.open("/" + w.ride() + "/rosters/1").printed("folded roster")
	for _, words := range []string{own, other, law, "Tell Maren Tull before you turn back"} {
		if !strings.Contains(strings.Join(strings.Fields(text), " "), words) {
			t.Errorf("%q is not printed: %s", words, text)
		}
	}
}

// printed prints the page as chromium does: where the file lies, and its text as pdftotext reads it.
func (b *tab) printed(name string) (file, text string) {
	b.t.Helper()
	var drawn []byte
	b.does(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		made, err := chromedp.Call(ctx, page.PrintToPDF, page.PrintToPDFParams{PreferCSSPageSize: new(true)})
		if err == nil {
			drawn = made.Data
		}
		return err
	}))
	folder := os.Getenv("GRITWARD_PICTURES")
	if folder == "" {
		folder = b.t.TempDir()
	}
	file = filepath.Join(folder, name+".pdf")
	if err := os.WriteFile(file, drawn, 0o644); err != nil {
		b.t.Fatal(err)
	}
	read, err := exec.Command("pdftotext", "-layout", file, "-").Output()
	if err != nil {
		b.t.Fatalf("pdftotext: %v", err)
	}
	return file, string(read)
}

// TestBrowserPrintsPolicy: what is folded on the screen, and found by its link, stands on paper.
func TestBrowserPrintsPolicy(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.tabOf(t, "member", phone, true).signIn(demo.Member)
	b.open("/" + w.club() + "/policies").checked("policy folded")
	const law = "A white light at the front is the law"
	if strings.Contains(b.text(), law) {
		t.Error("nothing is folded")
	}
	if tall := eval[int](b, "document.documentElement.scrollHeight"); tall > 8000 {
		t.Errorf("folded, it is %d px tall", tall)
	}
	if _, text := b.printed("policy"); !strings.Contains(strings.Join(strings.Fields(text), " "), law) {
		t.Errorf("what is folded is not printed: %s", text)
	}
	b.open("/" + w.club() + "/policies#rule-front-light").waits(law)
}
