package placement_test

import (
	"context"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"gritward/internal/placement"
)

// able is a rider at ease from 24 to 30 km/h, clear in groups a and b, with both
// qualifications.
func able(id string, change ...func(*placement.Rider)) placement.Rider {
	r := placement.Rider{ID: id, PaceMinKmh: 24, PaceMaxKmh: 30, MayLead: true, MayMarkBack: true,
		Standings: map[string]placement.Standing{"a": placement.Clear, "b": placement.Clear}}
	for _, c := range change {
		c(&r)
	}
	return r
}

func stands(group string, s placement.Standing) func(*placement.Rider) {
	return func(r *placement.Rider) { r.Standings[group] = s }
}

func unqualified(r *placement.Rider) { r.MayLead, r.MayMarkBack = false, false }

func guardedBy(id string) func(*placement.Rider) {
	return func(r *placement.Rider) { r.Junior, r.Guardian = true, id }
}

func party(p string) func(*placement.Rider) { return func(r *placement.Rider) { r.Party = p } }

func pinned(g string) func(*placement.Rider) { return func(r *placement.Rider) { r.Pinned = g } }

func pace(lo, hi float64) func(*placement.Rider) {
	return func(r *placement.Rider) { r.PaceMinKmh, r.PaceMaxKmh = lo, hi }
}

func ride(riders ...placement.Rider) placement.Problem {
	return placement.Problem{Riders: riders, NeedLeader: true, NeedBackMarker: true, Groups: []placement.Group{
		{ID: "a", PaceKmh: 26, MinSize: 2, MaxSize: 3, BackPlaces: 1},
		{ID: "b", PaceKmh: 28, MinSize: 2, MaxSize: 3, BackPlaces: 1},
	}}
}

// roster writes a result as "a: leader.. riders (back marker)".
func roster(r placement.Result) string {
	var out []string
	for _, g := range r.Groups {
		if g.Runs {
			out = append(out, g.ID+": "+strings.Join(g.Riders, " ")+" ("+g.Leader+"-"+g.BackMarker+")")
		}
	}
	return strings.Join(out, ", ")
}

func TestSolve(t *testing.T) {
	tests := []struct {
		name   string
		p      placement.Problem
		roster string
		out    map[string]string // unplaced rider: reasons by group, joined
	}{
		{
			name:   "as many groups as can run",
			p:      ride(able("r1"), able("r2"), able("r3"), able("r4")),
			roster: "a: r1 r2 (r1-r2), b: r3 r4 (r3-r4)",
		},
		{
			name:   "discomfort before preference",
			p:      ride(able("r1", pace(27, 30), func(r *placement.Rider) { r.Preferred = "a" }), able("r2"), able("r3"), able("r4")),
			roster: "a: r2 r3 (r2-r3), b: r1 r4 (r1-r4)",
		},
		{
			name:   "a place before comfort",
			p:      ride(able("r1", pace(10, 12)), able("r2", pace(40, 45))),
			roster: "a: r1 r2 (r1-r2)",
		},
		{
			name:   "held and full",
			p:      ride(able("r1"), able("r2"), able("r3"), able("r4", stands("b", placement.Held)), able("r5", stands("a", placement.Held), stands("b", placement.Held))),
			roster: "a: r1 r4 (r1-r4), b: r2 r3 (r2-r3)",
			out:    map[string]string{"r5": "a held; b held"},
		},
		{
			name:   "missing standing is held",
			p:      ride(able("r1"), able("r2"), placement.Rider{ID: "r3", PaceMaxKmh: 30, Standings: map[string]placement.Standing{"z": placement.Clear}}),
			roster: "a: r1 r2 (r1-r2)",
			out:    map[string]string{"r3": "a held; b held"},
		},
		{
			name: "no leader at all",
			p: ride(able("r1", func(r *placement.Rider) { r.MayLead = false }),
				able("r2", func(r *placement.Rider) { r.MayLead = false })),
			out: map[string]string{
				"r1": "a group does not run: no leader; b group does not run: no leader",
				"r2": "a group does not run: no leader; b group does not run: no leader"},
		},
		{
			name: "one rider cannot do both",
			p:    ride(able("r1"), able("r2", unqualified)),
			out: map[string]string{
				"r1": "a group does not run: one rider cannot be both leader and back marker; b group does not run: one rider cannot be both leader and back marker",
				"r2": "a group does not run: one rider cannot be both leader and back marker; b group does not run: one rider cannot be both leader and back marker"},
		},
		{
			name: "too few riders",
			p: placement.Problem{Riders: []placement.Rider{able("r1"), able("r2"), able("r3")},
				Groups: []placement.Group{{ID: "a", PaceKmh: 26, MinSize: 4, MaxSize: 9}}},
			out: map[string]string{
				"r1": "a group does not run: too few riders: 3 of 4",
				"r2": "a group does not run: too few riders: 3 of 4",
				"r3": "a group does not run: too few riders: 3 of 4"},
		},
		{
			name: "back places",
			p: placement.Problem{Riders: []placement.Rider{able("r1", stands("a", placement.Back)), able("r2", stands("a", placement.Back)), able("r3")},
				Groups: []placement.Group{{ID: "a", PaceKmh: 26, MaxSize: 9, BackPlaces: 1}}},
			roster: "a: r1 r3 (-)",
			out:    map[string]string{"r2": "a back places full"},
		},
		{
			name: "no back places, and full",
			p: placement.Problem{Riders: []placement.Rider{able("r1"), able("r2"), able("r3", stands("a", placement.Back))},
				Groups: []placement.Group{{ID: "a", PaceKmh: 26, MaxSize: 1}}},
			roster: "a: r1 (-)",
			out:    map[string]string{"r2": "a full", "r3": "a no back places"},
		},
		{
			name: "party whole or not at all",
			p: placement.Problem{Riders: []placement.Rider{able("r1", party("p")), able("r2", party("p")), able("r3"), able("r4")},
				Groups: []placement.Group{{ID: "a", PaceKmh: 26, MaxSize: 3}}},
			roster: "a: r1 r2 r3 (-)",
			out:    map[string]string{"r4": "a full"},
		},
		{
			name:   "party held with one of it",
			p:      ride(able("r1", party("p")), able("r2", party("p"), stands("a", placement.Held), stands("b", placement.Held)), able("r3"), able("r4")),
			roster: "a: r3 r4 (r3-r4)",
			out:    map[string]string{"r1": "a goes with r2: held; b goes with r2: held", "r2": "a held; b held"},
		},
		{
			name:   "junior with the guardian, who leads",
			p:      ride(able("r1", guardedBy("r9")), able("r2"), able("r9", stands("a", placement.Held)), able("r3", unqualified)),
			roster: "b: r1 r2 r9 (r2-r9)",
			out:    map[string]string{"r3": "a group does not run: one rider cannot be both leader and back marker; b full"},
		},
		{
			name:   "junior without a guardian",
			p:      ride(able("r1", guardedBy("")), able("r2"), able("r3")),
			roster: "a: r2 r3 (r2-r3)",
			out:    map[string]string{"r1": "a junior without a guardian; b junior without a guardian"},
		},
		{
			name:   "guardian rides without a junior who is held",
			p:      ride(able("r1", guardedBy("r2"), stands("a", placement.Held), stands("b", placement.Held)), able("r2"), able("r3")),
			roster: "a: r2 r3 (r2-r3)",
			out:    map[string]string{"r1": "a held; b held"},
		},
		{
			name:   "pin",
			p:      ride(able("r1", pinned("b")), able("r2"), able("r3", pinned("b"), stands("b", placement.Held))),
			roster: "b: r1 r2 (r1-r2)",
			out:    map[string]string{"r3": "a pinned to group b; b held"},
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := solve(t, tt.p)
			if faults := placement.Check(tt.p, r); len(faults) > 0 {
				t.Error(faults)
			}
			if got := roster(r); got != tt.roster {
				t.Errorf("roster %q, want %q", got, tt.roster)
			}
			if diff := cmp.Diff(tt.out, reasons(r)); diff != "" {
				t.Error(diff)
			}
			if !r.Proven || r.Bound != r.Objective {
				t.Errorf("proven %v, bound %+v, objective %+v", r.Proven, r.Bound, r.Objective)
			}
		})
	}
}

func reasons(r placement.Result) map[string]string {
	var out map[string]string
	for _, u := range r.Unplaced {
		var words []string
		for _, why := range u.Reasons {
			words = append(words, strings.TrimSpace(why.Group+" "+why.Text))
		}
		if out == nil {
			out = map[string]string{}
		}
		out[u.Rider] = strings.Join(words, "; ")
	}
	return out
}

func TestSolveNamedRoles(t *testing.T) {
	tests := []struct {
		name   string
		change func(*placement.Problem)
		roster string
		whyNot string // of group a
	}{
		{"honoured", func(p *placement.Problem) { p.Groups[0].Leader, p.Groups[0].BackMarker = "r4", "r3" }, "a: r3 r4 (r4-r3), b: r1 r2 (r1-r2)", ""},
		{"honoured when not needed", func(p *placement.Problem) {
			p.NeedLeader, p.NeedBackMarker = false, false
			p.Groups[0].Leader = "r4"
		}, "a: r1 r4 (r4-), b: r2 r3 (-)", ""},
		{"not qualified", func(p *placement.Problem) { p.Riders[3].MayLead, p.Groups[0].Leader = false, "r4" }, "b: r1 r2 r3 (r1-r2)", "named leader r4 is not qualified"},
		{"held", func(p *placement.Problem) {
			p.Riders[3].Standings["a"] = placement.Held
			p.Groups[0].BackMarker = "r4"
		}, "b: r1 r2 r3 (r1-r2)", "named back marker r4: held"},
		{"junior", func(p *placement.Problem) { guardedBy("r1")(&p.Riders[3]); p.Groups[0].Leader = "r4" }, "b: r1 r2 r3 (r1-r2)", "named leader r4 is a junior"},
		{"pinned elsewhere", func(p *placement.Problem) { p.Riders[3].Pinned, p.Groups[0].Leader = "b", "r4" }, "b: r1 r2 r3 (r1-r2)", "named leader r4: pinned to group b"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p := ride(able("r1"), able("r2"), able("r3"), able("r4"))
			tt.change(&p)
			r := solve(t, p)
			if faults := placement.Check(p, r); len(faults) > 0 {
				t.Error(faults)
			}
			if got := roster(r); got != tt.roster || r.Groups[0].WhyNot != tt.whyNot {
				t.Errorf("got %q, why not a: %q; want %q, %q", got, r.Groups[0].WhyNot, tt.roster, tt.whyNot)
			}
		})
	}
}

// Of the qualified, the better standing leads, then the more experienced.
func TestSolveChoosesRoles(t *testing.T) {
	exp := func(n int) func(*placement.Rider) { return func(r *placement.Rider) { r.Experience = n } }
	p := ride(able("r1", exp(90), stands("a", placement.Back)), able("r2", exp(5)), able("r3", exp(7)))
	p.Groups = p.Groups[:1]
	if got := roster(solve(t, p)); got != "a: r1 r2 r3 (r3-r2)" {
		t.Error(got)
	}
	p.Riders[1].MayMarkBack, p.Riders[0].MayMarkBack = false, false // only r3 may mark the back
	if got := roster(solve(t, p)); got != "a: r1 r2 r3 (r2-r3)" {
		t.Error(got)
	}
}

func TestSolveEmpty(t *testing.T) {
	r := solve(t, placement.Problem{})
	if len(r.Groups) != 0 || len(r.Unplaced) != 0 || !r.Proven {
		t.Errorf("%+v", r)
	}
	r = solve(t, placement.Problem{Riders: []placement.Rider{able("r1")}})
	if diff := cmp.Diff(map[string]string{"r1": "the ride has no groups"}, reasons(r)); diff != "" {
		t.Error(diff)
	}
	r = solve(t, placement.Problem{Groups: ride().Groups})
	if r.Groups[0].WhyNot != "no riders" {
		t.Errorf("%+v", r)
	}
}

// A search cut short gives an allowed answer, the same each time, and a bound
// that no answer beats.
func TestSolveNodeLimit(t *testing.T) {
	p := club(60, 5, 1)
	best := solve(t, p)
	unproven := 0
	for limit := 1; limit < 12; limit++ {
		p.NodeLimit = limit
		r := solve(t, p)
		if faults := placement.Check(p, r); len(faults) > 0 {
			t.Fatal(faults)
		}
		if r.Objective.Better(best.Objective) || best.Objective.Better(r.Bound) || r.Proven != (r.Bound == r.Objective) {
			t.Fatalf("limit %d: %+v, bound %+v, proven %v; best %+v", limit, r.Objective, r.Bound, r.Proven, best.Objective)
		}
		if diff := cmp.Diff(r, solve(t, p)); diff != "" {
			t.Fatal(diff)
		}
		if !r.Proven {
			unproven++
		}
	}
	if unproven == 0 {
		t.Error("no limit cut the search short: the test shows nothing")
	}
}

func TestSolveCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := placement.Solve(ctx, ride(able("r1"), able("r2")))
	if !errors.Is(err, context.Canceled) || !strings.Contains(err.Error(), "allow more time") {
		t.Error(err)
	}
}

func TestDiscomfort(t *testing.T) {
	for _, tt := range []struct {
		lo, hi, pace float64
		want         int
	}{
		{24, 28, 26, 0}, {24, 28, 24, 0}, {24, 28, 28, 0},
		{24, 28, 28.1, 3}, {24, 28, 30, 60}, {24, 28, 23.9, 1}, {24, 28, 22, 20},
		{24, 28, 28.04, 0}, {24, 28, 28.06, 3}, {24.3, 24.3, 24.6, 9}, // 24.6-24.3 is not 0.3 in binary
	} {
		got := placement.Discomfort(placement.Rider{PaceMinKmh: tt.lo, PaceMaxKmh: tt.hi}, placement.Group{PaceKmh: tt.pace})
		if got != tt.want {
			t.Errorf("band %g-%g, pace %g: %d, want %d", tt.lo, tt.hi, tt.pace, got, tt.want)
		}
	}
}

func TestSolveRefusesMalformed(t *testing.T) {
	tests := []struct {
		name   string
		change func(*placement.Problem)
		want   string
	}{
		{"rider twice", func(p *placement.Problem) { p.Riders[1].ID = "r1" }, `riders[1].id: "r1" is already riders[0]`},
		{"rider without ID", func(p *placement.Problem) { p.Riders[1].ID = "" }, "riders[1].id: empty"},
		{"group twice", func(p *placement.Problem) { p.Groups[1].ID = "a" }, "groups[1].id"},
		{"unknown guardian", func(p *placement.Problem) { guardedBy("x")(&p.Riders[0]) }, `riders[0].guardian: no rider "x"`},
		{"own guardian", func(p *placement.Problem) { guardedBy("r1")(&p.Riders[0]) }, "own ID"},
		{"juniors in a ring", func(p *placement.Problem) { guardedBy("r2")(&p.Riders[0]); guardedBy("r1")(&p.Riders[1]) }, "name an adult"},
		{"unknown pin", func(p *placement.Problem) { p.Riders[0].Pinned = "x" }, `riders[0].pinned: no group "x"`},
		{"unknown leader", func(p *placement.Problem) { p.Groups[0].Leader = "x" }, `groups[0].leader: no rider "x"`},
		{"named twice", func(p *placement.Problem) { p.Groups[0].Leader, p.Groups[1].BackMarker = "r1", "r1" }, "groups[1].back_marker: \"r1\" is already named at groups[0].leader"},
		{"negative min", func(p *placement.Problem) { p.Groups[0].MinSize = -1 }, "groups[0].min_size: -1"},
		{"negative max", func(p *placement.Problem) { p.Groups[0].MaxSize = -1 }, "groups[0].max_size: -1"},
		{"negative back places", func(p *placement.Problem) { p.Groups[0].BackPlaces = -1 }, "groups[0].back_places: -1"},
		{"min above max", func(p *placement.Problem) { p.Groups[0].MinSize = 4 }, "above max_size"},
		{"NaN pace", func(p *placement.Problem) { p.Groups[0].PaceKmh = math.NaN() }, "groups[0].pace_kmh: NaN"},
		{"no pace", func(p *placement.Problem) { p.Groups[0].PaceKmh = 0 }, "groups[0].pace_kmh"},
		{"infinite band", func(p *placement.Problem) { p.Riders[0].PaceMaxKmh = math.Inf(1) }, "riders[0].pace_max_kmh: +Inf"},
		{"NaN band", func(p *placement.Problem) { p.Riders[0].PaceMinKmh = math.NaN() }, "riders[0].pace_min_kmh: NaN"},
		{"band upside down", func(p *placement.Problem) { p.Riders[0].PaceMinKmh = 31 }, "swap them"},
		{"unknown standing", func(p *placement.Problem) { p.Riders[0].Standings["a"] = 7 }, "riders[0].standings[a]: 7"},
		{"negative experience", func(p *placement.Problem) { p.Riders[0].Experience = -1 }, "riders[0].experience: -1"},
		{"negative limit", func(p *placement.Problem) { p.NodeLimit = -1 }, "node_limit: -1"},
		{"too many riders", func(p *placement.Problem) { p.Riders = make([]placement.Rider, placement.MaxRiders+1) }, "riders: 2001 riders"},
		{"too many groups", func(p *placement.Problem) { p.Groups = make([]placement.Group, placement.MaxGroups+1) }, "groups: 16 groups"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p := ride(able("r1"), able("r2"))
			tt.change(&p)
			_, err := placement.Solve(context.Background(), p)
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want %q", err, tt.want)
			}
		})
	}
}

// The largest problem allowed stays inside 64 bits.
func TestSolveLargestProblem(t *testing.T) {
	p := club(placement.MaxRiders, placement.MaxGroups, 1)
	for i := range p.Riders {
		p.Riders[i].PaceMinKmh, p.Riders[i].PaceMaxKmh = 0, 0
	}
	for i := range p.Groups {
		p.Groups[i].PaceKmh = placement.MaxPaceKmh - float64(i)/10
	}
	p.NodeLimit = 200
	r := solve(t, p)
	if faults := placement.Check(p, r); len(faults) > 0 {
		t.Fatal(faults)
	}
	if got := placement.Score(p, r); got != r.Objective || got.Placed < placement.MaxRiders*9/10 {
		t.Fatalf("says %+v, scores %+v", r.Objective, got)
	}
	if slices.ContainsFunc(r.Unplaced, func(u placement.Unplaced) bool { return len(u.Reasons) != len(p.Groups) }) {
		t.Error("reasons are missing")
	}
}

func FuzzSolve(f *testing.F) { f.Fuzz(fuzzSolve()) }
