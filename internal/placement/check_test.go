package placement_test

import (
	"slices"
	"strings"
	"testing"

	"gritward/internal/placement"
)

// Each edit breaks one rule of a sound result, and Check says which.
func TestCheck(t *testing.T) {
	p := ride(able("r1", party("p")), able("r2", party("p"), unqualified), able("r3"), able("r4"), able("r5"), able("j", guardedBy("r5")))
	sound := func() placement.Result {
		return placement.Result{Groups: []placement.GroupResult{
			{ID: "a", Runs: true, Leader: "r1", BackMarker: "r3", Riders: []string{"r1", "r2", "r3"}},
			{ID: "b", Runs: true, Leader: "r4", BackMarker: "r5", Riders: []string{"j", "r4", "r5"}},
		}}
	}
	tests := []struct {
		name string
		edit func(*placement.Problem, *placement.Result)
		want string // "" for sound
	}{
		{"sound", func(*placement.Problem, *placement.Result) {}, ""},
		{"held", func(p *placement.Problem, _ *placement.Result) { p.Riders[0].Standings["a"] = placement.Held }, "r1 is held"},
		{"no standing", func(p *placement.Problem, _ *placement.Result) { delete(p.Riders[0].Standings, "a") }, "r1 is held"},
		{"too many", func(p *placement.Problem, _ *placement.Result) { p.Groups[0].MaxSize = 2 }, "3 riders, at most 2"},
		{"too few", func(p *placement.Problem, _ *placement.Result) { p.Groups[0].MinSize = 4 }, "3 riders, at least 4"},
		{"too many at the back", func(p *placement.Problem, _ *placement.Result) {
			p.Riders[0].Standings["a"], p.Riders[1].Standings["a"] = placement.Back, placement.Back
		}, "2 riders of standing back, at most 1"},
		{"no leader", func(_ *placement.Problem, r *placement.Result) { r.Groups[0].Leader = "" }, "group a: no leader"},
		{"no back marker", func(_ *placement.Problem, r *placement.Result) { r.Groups[0].BackMarker = "" }, "group a: no back marker"},
		{"one for both", func(_ *placement.Problem, r *placement.Result) { r.Groups[0].BackMarker = "r1" }, "cannot be both"},
		{"leader elsewhere", func(_ *placement.Problem, r *placement.Result) { r.Groups[0].Leader = "r4" }, "leader r4 does not ride in it"},
		{"unqualified leader", func(_ *placement.Problem, r *placement.Result) { r.Groups[0].Leader = "r2" }, "leader r2 is not qualified"},
		{"unqualified back marker", func(_ *placement.Problem, r *placement.Result) { r.Groups[0].BackMarker = "r2" }, "back marker r2 is not qualified"},
		{"junior leads", func(_ *placement.Problem, r *placement.Result) { r.Groups[1].Leader = "j" }, "leader j is a junior"},
		{"not the one named", func(p *placement.Problem, _ *placement.Result) { p.Groups[0].Leader = "r3" }, "r3 is named leader"},
		{"not the back marker named", func(p *placement.Problem, _ *placement.Result) { p.Groups[0].BackMarker = "r1" }, "r1 is named back marker"},
		{"party split", func(_ *placement.Problem, r *placement.Result) {
			r.Groups[0].Riders, r.Unplaced = []string{"r1", "r3"}, []placement.Unplaced{{Rider: "r2"}}
		}, "party p: r1 rides in \"a\", r2 in \"\""},
		{"junior alone", func(_ *placement.Problem, r *placement.Result) {
			r.Groups[1].Riders, r.Unplaced = []string{"j", "r4"}, []placement.Unplaced{{Rider: "r5"}}
		}, "junior j rides without the guardian"},
		{"pin", func(p *placement.Problem, _ *placement.Result) { p.Riders[0].Pinned = "b" }, "r1 is pinned to group b"},
		{"twice", func(_ *placement.Problem, r *placement.Result) { r.Groups[1].Riders = []string{"j", "r3", "r4", "r5"} }, "r3 is already in group a"},
		{"stranger", func(_ *placement.Problem, r *placement.Result) { r.Groups[1].Riders = []string{"j", "r4", "r5", "x"} }, "x is not signed up"},
		{"forgotten", func(_ *placement.Problem, r *placement.Result) { r.Groups[1].Riders = []string{"r4", "r5"} }, "rider j: must be either"},
		{"placed and unplaced", func(_ *placement.Problem, r *placement.Result) { r.Unplaced = []placement.Unplaced{{Rider: "j"}} }, "rider j: must be either"},
		{"unknown unplaced", func(_ *placement.Problem, r *placement.Result) { r.Unplaced = []placement.Unplaced{{Rider: "x"}} }, "rider x: unplaced, but unknown"},
		{"unknown group", func(_ *placement.Problem, r *placement.Result) {
			r.Groups = append(r.Groups, placement.GroupResult{ID: "c"})
		}, "group c: unknown"},
		{"group twice", func(_ *placement.Problem, r *placement.Result) {
			r.Groups = append(r.Groups, placement.GroupResult{ID: "a"})
		}, "group a: unknown, or listed twice"},
		{"does not run", func(_ *placement.Problem, r *placement.Result) { r.Groups[0].Runs = false }, "does not run, but has 3 riders"},
		{"runs empty", func(_ *placement.Problem, r *placement.Result) { r.Groups[0].Riders = nil }, "runs with nobody"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			q, r := p, sound()
			q.Riders, q.Groups = slices.Clone(p.Riders), slices.Clone(p.Groups)
			for i := range q.Riders {
				q.Riders[i] = able(q.Riders[i].ID, func(x *placement.Rider) {
					standings := x.Standings
					*x = q.Riders[i]
					x.Standings = standings
				})
			}
			tt.edit(&q, &r)
			faults := placement.Check(q, r)
			if tt.want == "" && len(faults) > 0 || tt.want != "" && !strings.Contains(strings.Join(faults, "\n"), tt.want) {
				t.Errorf("faults %q, want %q", faults, tt.want)
			}
		})
	}
}
