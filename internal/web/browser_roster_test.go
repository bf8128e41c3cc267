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
	var drawn []byte
	b.does(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		made, err := chromedp.Call(ctx, page.PrintToPDF, page.PrintToPDFParams{PreferCSSPageSize: new(true)})
		if err == nil {
			drawn = made.Data
		}
		return err
	}))
	file := filepath.Join(t.TempDir(), "roster.pdf")
	if folder := os.Getenv("GRITWARD_PICTURES"); folder != "" {
		file = filepath.Join(folder, "roster.pdf")
	}
	if err := os.WriteFile(file, drawn, 0o644); err != nil {
		t.Fatal(err)
	}
	about, err := exec.Command("pdfinfo", file).Output()
	if err != nil {
		t.Fatalf("pdfinfo: %v", err)
	}
	if !regexp.MustCompile(`Page size:\s+59[45]\.?\d* x 84[12]\.?\d* pts`).Match(about) {
		t.Errorf("the sheets are not of A4: %s", about)
	}
	text, err := exec.Command("pdftotext", "-layout", file, "-").Output()
	if err != nil {
		t.Fatalf("pdftotext: %v", err)
	}
	sheets := strings.Split(strings.TrimRight(string(text), "\f"), "\f")
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
