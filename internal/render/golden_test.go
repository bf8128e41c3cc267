package render_test

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"testing"

	"gritward/internal/brief"
	"gritward/internal/render"
	"gritward/internal/render/rostertest"
	pb "gritward/proto/gritward/v1"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write the expected files anew")

func issue(t testing.TB, name string) *pb.Roster {
	r := rostertest.Load(t, name)
	r.Brief = brief.Compose(r)
	return r
}

func text(t testing.TB, r *pb.Roster, opt render.TextOptions) string {
	t.Helper()
	var b bytes.Buffer
	if err := render.Text(&b, r, opt); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func html(t testing.TB, r *pb.Roster) string {
	t.Helper()
	var b bytes.Buffer
	if err := render.HTML(&b, r); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func svg(t testing.TB, r *pb.Roster) string {
	t.Helper()
	var b bytes.Buffer
	if err := render.SVG(&b, r); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func golden(t *testing.T, file, got string) {
	t.Helper()
	path := filepath.Join(rostertest.Dir, file)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s differs (-want +got):\n%s", file, diff)
	}
}

func TestGolden(t *testing.T) {
	for _, name := range rostertest.Names() {
		t.Run(name, func(t *testing.T) {
			r := issue(t, name)
			golden(t, name+".roster.txt", text(t, r, render.TextOptions{Part: render.RosterOnly}))
			golden(t, name+".html", html(t, r))
			golden(t, name+".svg", svg(t, r))
			var b bytes.Buffer
			if err := render.PlanText(&b, r.GetPlan(), r.GetZone(), render.TextOptions{Width: 72}); err != nil {
				t.Fatal(err)
			}
			golden(t, name+".plan.txt", b.String())
		})
	}
}

func TestSameTwice(t *testing.T) {
	r := issue(t, "winter-run")
	page, words := html(t, r), text(t, r, render.TextOptions{})
	if html(t, r) != page || text(t, r, render.TextOptions{}) != words {
		t.Error("the same roster gave two different pages")
	}
}
