package placement_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"gritward/internal/placement"
)

// small draws a problem that brute force can solve, with every kind of rule.
func small(t *rapid.T) placement.Problem {
	n := rapid.IntRange(0, 7).Draw(t, "riders")
	k := rapid.IntRange(1, 3).Draw(t, "groups")
	p := placement.Problem{
		NeedLeader:     rapid.Bool().Draw(t, "need_leader"),
		NeedBackMarker: rapid.Bool().Draw(t, "need_back_marker"),
	}
	for g := range k {
		max := rapid.IntRange(0, 6).Draw(t, "max")
		p.Groups = append(p.Groups, placement.Group{
			ID:         fmt.Sprintf("g%d", g),
			PaceKmh:    24 + 0.5*float64(rapid.IntRange(0, 6).Draw(t, "pace")),
			MinSize:    rapid.IntRange(0, min(max, 4)).Draw(t, "min"),
			MaxSize:    max,
			BackPlaces: rapid.IntRange(0, 2).Draw(t, "back_places"),
		})
	}
	standings := []placement.Standing{placement.Clear, placement.Clear, placement.Advised, placement.Back, placement.Back, placement.Held}
	for r := range n {
		lo := 23 + 0.5*float64(rapid.IntRange(0, 6).Draw(t, "lo"))
		x := placement.Rider{
			ID: fmt.Sprintf("r%d", r), PaceMinKmh: lo, PaceMaxKmh: lo + float64(rapid.IntRange(0, 4).Draw(t, "band")),
			MayLead: rapid.IntRange(0, 1).Draw(t, "lead") == 1, MayMarkBack: rapid.IntRange(0, 1).Draw(t, "mark") == 1,
			Party:      rapid.SampledFrom([]string{"", "", "", "a", "b"}).Draw(t, "party"),
			Standings:  map[string]placement.Standing{},
			Experience: rapid.IntRange(0, 3).Draw(t, "experience"),
		}
		for _, g := range p.Groups {
			x.Standings[g.ID] = rapid.SampledFrom(standings).Draw(t, "standing")
		}
		x.Preferred, x.Previous, x.Pinned = anyGroup(t, k, 2, "preferred"), anyGroup(t, k, 2, "previous"), anyGroup(t, k, 8, "pinned")
		if r > 0 && rapid.IntRange(0, 4).Draw(t, "junior") == 0 {
			if a := rapid.IntRange(0, r-1).Draw(t, "guardian"); !p.Riders[a].Junior {
				x.Junior, x.Guardian = true, p.Riders[a].ID
			}
		}
		p.Riders = append(p.Riders, x)
	}
	for i := range p.Riders {
		p.Riders[i].MustRide = rapid.IntRange(0, 19).Draw(t, "must_ride") == 0
	}
	for g := range p.Groups {
		p.Groups[g].MustRun = rapid.IntRange(0, 9).Draw(t, "must_run") == 0
		p.Groups[g].LeaderWaived = rapid.IntRange(0, 4).Draw(t, "leader_waived") == 0
		p.Groups[g].BackMarkerWaived = rapid.IntRange(0, 4).Draw(t, "back_marker_waived") == 0
	}
	if n >= 2 && rapid.IntRange(0, 4).Draw(t, "name") == 0 {
		p.Groups[0].Leader, p.Groups[k-1].BackMarker = "r0", "r1"
	}
	return p
}

// anyGroup draws a group, or none, one in some.
func anyGroup(t *rapid.T, groups, some int, label string) string {
	if rapid.IntRange(0, some-1).Draw(t, label+"?") > 0 {
		return ""
	}
	return fmt.Sprintf("g%d", rapid.IntRange(0, groups-1).Draw(t, label))
}

func solve(t interface{ Fatal(...any) }, p placement.Problem) placement.Result {
	r, err := placement.Solve(context.Background(), p)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// The answer is the best of all, and of the best the one the rule of ties picks.
func TestSolveAgainstBruteForce(t *testing.T) {
	rapid.Check(t, againstBruteForce)
}

func againstBruteForce(t *rapid.T) {
	p := small(t)
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

// The order of the input does not matter, and the input is not changed.
func TestSolveOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := small(t)
		want := solve(t, p)
		q := p
		q.Riders, q.Groups = append([]placement.Rider(nil), p.Riders...), append([]placement.Group(nil), p.Groups...)
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		rng.Shuffle(len(q.Riders), func(i, j int) { q.Riders[i], q.Riders[j] = q.Riders[j], q.Riders[i] })
		rng.Shuffle(len(q.Groups), func(i, j int) { q.Groups[i], q.Groups[j] = q.Groups[j], q.Groups[i] })
		before := fmt.Sprint(q)
		if diff := cmp.Diff(want, solve(t, q)); diff != "" {
			t.Fatal(diff)
		}
		if fmt.Sprint(q) != before {
			t.Fatal("input changed")
		}
	})
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
