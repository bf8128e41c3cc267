package placement_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"gritward/internal/placement"
	"gritward/internal/placement/placementtest"
)

var small = placementtest.Small

func solve(t interface{ Fatal(...any) }, p placement.Problem) placement.Result {
	r, err := placement.Solve(context.Background(), p)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// The answer is the best of all, and of the best the one the rule of ties picks.
func TestSolveAgainstBruteForce(t *testing.T) {
	for seed := range 3000 {
		compareWithBruteForce(t, placementtest.Drawn(seed))
	}
	rapid.Check(t, againstBruteForce) // others each time
}

func againstBruteForce(t *rapid.T) { compareWithBruteForce(t, small(t)) }

func compareWithBruteForce(t interface {
	Fatal(...any)
	Fatalf(string, ...any)
}, p placement.Problem) {
	r := solve(t, p)
	best, groups, found := brute(p)
	if r.Infeasible == found || !r.Proven {
		t.Fatalf("infeasible %v proven %v, brute force found one: %v", r.Infeasible, r.Proven, found)
	}
	if !found {
		return
	}
	if faults := placement.Check(p, r); len(faults) > 0 {
		t.Fatal(faults)
	}
	if r.Objective != best || !r.Proven || r.Bound != best {
		t.Fatalf("got %+v proven %v bound %+v, brute force %+v %v", r.Objective, r.Proven, r.Bound, best, groups)
	}
	if got := placement.Score(p, r); got != r.Objective {
		t.Fatalf("says %+v, scores %+v", r.Objective, got)
	}
	at := map[string]string{}
	for _, s := range r.Seats() {
		at[s.Rider] = s.Group
	}
	for i, g := range groups {
		if at[p.Riders[i].ID] != g {
			t.Fatalf("ties: got %v, want %v", at, groups)
		}
	}
}

// The order of the input does not matter, and the input is not changed; whether
// the search comes to its end or is cut short.
func TestSolveOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := small(t)
		sameInAnyOrder(t, p, rapid.Uint64().Draw(t, "seed"))
	})
	for seed := range uint64(12) {
		p := placementtest.Short(club(60, 5, seed), 7+int(seed%4))
		p.NodeLimit = []int{0, 1, 5, 20}[seed%4]
		sameInAnyOrder(t, p, seed)
		sameInAnyOrder(t, club(200, 8, seed), seed)
	}
}

func sameInAnyOrder(t interface{ Fatal(...any) }, p placement.Problem, seed uint64) {
	want := solve(t, p)
	q := p
	q.Riders, q.Groups = append([]placement.Rider(nil), p.Riders...), append([]placement.Group(nil), p.Groups...)
	rng := rand.New(rand.NewPCG(seed, 1))
	rng.Shuffle(len(q.Riders), func(i, j int) { q.Riders[i], q.Riders[j] = q.Riders[j], q.Riders[i] })
	rng.Shuffle(len(q.Groups), func(i, j int) { q.Groups[i], q.Groups[j] = q.Groups[j], q.Groups[i] })
	before := fmt.Sprint(q)
	if diff := cmp.Diff(want, solve(t, q)); diff != "" {
		t.Fatal(diff)
	}
	if fmt.Sprint(q) != before {
		t.Fatal("input changed")
	}
}

// Every unplaced rider has a reason in words for each group.
func TestSolveReasons(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := small(t)
		r := solve(t, p)
		if r.Infeasible {
			return
		}
		for _, u := range r.Unplaced {
			if len(u.Reasons) != len(p.Groups) {
				t.Fatalf("%d reasons for %d groups", len(u.Reasons), len(p.Groups))
			}
			for _, why := range u.Reasons {
				if why.Text == "" || why.Text == "no room found before the search ended" {
					t.Fatalf("rider %s group %s: %q in %+v", u.Rider, why.Group, why.Text, r)
				}
			}
		}
		for _, g := range r.Groups {
			if g.Runs == (g.WhyNot != "") {
				t.Fatalf("group %s runs %v: %q", g.ID, g.Runs, g.WhyNot)
			}
		}
	})
}

// fuzzSolve drives the comparison with brute force from fuzz input.
func fuzzSolve() func(*testing.T, []byte) {
	return rapid.MakeFuzz(againstBruteForce)
}
