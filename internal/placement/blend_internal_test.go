package placement

import (
	"context"
	"fmt"
	"math"
	"math/big"
	"testing"

	"pgregory.net/rapid"
)

// drawnProblem draws parties, juniors with the guardian in another party, places that
// are short, and groups that may not run.
func drawnProblem(t *rapid.T) Problem {
	groups := rapid.IntRange(1, 4).Draw(t, "groups")
	riders := rapid.IntRange(0, 16).Draw(t, "riders")
	p := Problem{NeedLeader: rapid.Bool().Draw(t, "need_leader"), NeedBackMarker: rapid.Bool().Draw(t, "need_back_marker")}
	for g := range groups {
		most := rapid.IntRange(1, 6).Draw(t, "max")
		p.Groups = append(p.Groups, Group{
			ID: fmt.Sprint("g", g), PaceKmh: 24 + 0.7*float64(g), MinSize: rapid.IntRange(0, most).Draw(t, "min"), MaxSize: most,
			BackPlaces: rapid.IntRange(0, 3).Draw(t, "back_places"),
		})
	}
	anyGroup := func(label string) string {
		if g := rapid.IntRange(0, 2*groups).Draw(t, label); g < groups {
			return p.Groups[g].ID
		}
		return ""
	}
	for r := range riders {
		lo := 23 + 0.3*float64(rapid.IntRange(0, 10).Draw(t, "lo"))
		x := Rider{
			ID: fmt.Sprintf("r%02d", r), PaceMinKmh: lo, PaceMaxKmh: lo + 1, Preferred: anyGroup("preferred"), Previous: anyGroup("previous"),
			MayLead: rapid.IntRange(0, 2).Draw(t, "lead") == 0, MayMarkBack: rapid.IntRange(0, 2).Draw(t, "mark") == 0,
			Party: rapid.SampledFrom([]string{"", "", "a", "b", "c"}).Draw(t, "party"), Standings: map[string]Standing{},
		}
		for _, g := range p.Groups {
			x.Standings[g.ID] = rapid.SampledFrom([]Standing{Clear, Clear, Clear, Back, Back, Held}).Draw(t, "standing")
		}
		if r > 0 && rapid.IntRange(0, 3).Draw(t, "junior") == 0 {
			if with := rapid.IntRange(0, r-1).Draw(t, "guardian"); !p.Riders[with].Junior {
				x.Junior, x.Guardian = true, p.Riders[with].ID
			}
		}
		p.Riders = append(p.Riders, x)
	}
	return p
}

// optimumWith is the least cost found when the flow gets so many nodes for a set, and
// the bound.
func optimumWith(p Problem, patience int) (cost, bound int64, blended bool) {
	m := newModel(p)
	s := newSearch(context.Background(), m.instance(), 1_000_000)
	s.best = m.nobodyRides()
	if s.patience = patience; patience < math.MaxInt {
		s.blend = &blend{s: s, w: m.weights}
	}
	s.run()
	return s.best.cost, s.bound(), s.blended
}

// What is blended from the start has the same optimum as what the flow alone proves.
func TestBlendAgainstFlow(t *testing.T) {
	blended := 0
	rapid.Check(t, func(t *rapid.T) {
		p := drawnProblem(t)
		if err := validate(p); err != nil {
			t.Fatal(err)
		}
		want, bound, _ := optimumWith(p, math.MaxInt)
		if want != bound {
			t.Fatal("the flow alone does not prove it")
		}
		got, bound, yes := optimumWith(p, 0)
		if got != want || bound != want {
			t.Fatalf("blended %d, bound %d, want %d", got, bound, want)
		}
		blended += count(yes)
	})
	if blended == 0 {
		t.Error("nothing was blended: the test shows nothing")
	}
}

// Sums of 128 bits are those of arbitrary precision.
func TestTotal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		got, want := newTotal(), new(big.Int)
		for range rapid.IntRange(0, 20).Draw(t, "terms") {
			v, n := rapid.Int64().Draw(t, "v"), rapid.IntRange(-2000, 2000).Draw(t, "n")
			got.add(v, n)
			want.Add(want, new(big.Int).Mul(big.NewInt(v), big.NewInt(int64(n))))
		}
		if got.value().Cmp(want) != 0 {
			t.Fatalf("%s, want %s", got.value(), want)
		}
	})
}
