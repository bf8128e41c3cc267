package placement_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"gritward/internal/placement"
)

// club draws a ride like a large club's: pace bands spread over the groups, a
// tenth qualified to lead, some at the back or held, parties and juniors, a
// fixed seed.
func club(riders, groups int, seed uint64) placement.Problem {
	rng := rand.New(rand.NewPCG(seed, 1))
	p := placement.Problem{NeedLeader: true, NeedBackMarker: true}
	size := riders/groups + riders/groups/5 + 1
	for g := range groups {
		p.Groups = append(p.Groups, placement.Group{
			ID: fmt.Sprintf("g%02d", g), PaceKmh: 22 + 12*float64(g)/float64(groups),
			MinSize: size / 3, MaxSize: size, BackPlaces: size / 5,
		})
	}
	oneIn := func(one int) string {
		if rng.IntN(one) > 0 {
			return ""
		}
		return p.Groups[rng.IntN(groups)].ID
	}
	for r := range riders {
		lo := 21 + 11*rng.Float64()
		x := placement.Rider{
			ID: fmt.Sprintf("r%04d", r), PaceMinKmh: lo, PaceMaxKmh: lo + 1 + 3*rng.Float64(),
			Preferred: oneIn(3), Previous: oneIn(2), Pinned: oneIn(60),
			MayLead: rng.IntN(8) == 0, MayMarkBack: rng.IntN(6) == 0,
			Standings: map[string]placement.Standing{}, Experience: rng.IntN(100),
		}
		kind := rng.IntN(20)
		for g, group := range p.Groups {
			s := placement.Clear
			switch {
			case kind < 2:
				s = placement.Back
			case kind == 2 && g < groups/2: // lights too short for the slower groups
				s = placement.Held
			case kind < 6:
				s = placement.Advised
			}
			x.Standings[group.ID] = s
		}
		if r > 0 && rng.IntN(12) == 0 { // rides with the one before
			before := &p.Riders[r-1]
			x.PaceMinKmh, x.PaceMaxKmh, x.Pinned = before.PaceMinKmh, before.PaceMaxKmh+1, before.Pinned
			switch {
			case before.Junior:
			case rng.IntN(3) == 0:
				x.Junior, x.Guardian = true, before.ID
			default:
				before.Party = "party of " + before.ID
				x.Party = before.Party
			}
		}
		p.Riders = append(p.Riders, x)
	}
	return p
}

func benchmarkSolve(b *testing.B, p placement.Problem) {
	var r placement.Result
	for b.Loop() {
		r = solve(b, p)
	}
	if faults := placement.Check(p, r); len(faults) > 0 {
		b.Fatal(faults)
	}
	proven := 0.0
	if r.Proven {
		proven = 1
	}
	b.ReportMetric(proven, "proven")
	b.ReportMetric(float64(r.Nodes), "nodes")
	b.ReportMetric(float64(len(r.Unplaced)), "unplaced")
}

func BenchmarkSolve(b *testing.B) {
	for _, size := range [][2]int{{12, 3}, {60, 5}, {200, 8}, {1000, 10}} {
		for seed := range uint64(3) {
			b.Run(fmt.Sprintf("%dx%d/%d", size[0], size[1], seed), func(b *testing.B) {
				benchmarkSolve(b, club(size[0], size[1], seed))
			})
		}
	}
}

// More riders than places, the hardest kind: whom to leave out is one more choice.
func BenchmarkSolveShort(b *testing.B) {
	for _, size := range [][2]int{{60, 5}, {200, 8}} {
		b.Run(fmt.Sprintf("%dx%d", size[0], size[1]), func(b *testing.B) {
			p := club(size[0], size[1], 1)
			for g := range p.Groups {
				p.Groups[g].MaxSize = p.Groups[g].MaxSize * 7 / 10
			}
			benchmarkSolve(b, p)
		})
	}
}
