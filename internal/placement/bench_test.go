package placement_test

import (
	"fmt"
	"testing"

	"gritward/internal/placement"
	"gritward/internal/placement/placementtest"
)

var club = placementtest.Club

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

// One rider in three comes with another, and places are short: what the flow alone
// does not prove.
func BenchmarkSolveSocial(b *testing.B) {
	for _, size := range [][2]int{{200, 8}, {1000, 10}} {
		for _, inTen := range []int{6, 7, 8} {
			for seed := range uint64(3) {
				b.Run(fmt.Sprintf("%dx%d/%d/%d", size[0], size[1], inTen, seed), func(b *testing.B) {
					benchmarkSolve(b, placementtest.Short(placementtest.Social(size[0], size[1], seed), inTen))
				})
			}
		}
	}
}

// What cannot hold together, where there are more riders than places.
func BenchmarkConflicts(b *testing.B) {
	for _, size := range [][2]int{{60, 5}, {200, 8}, {1000, 10}} {
		b.Run(fmt.Sprintf("%dx%d", size[0], size[1]), func(b *testing.B) {
			p := club(size[0], size[1], 1)
			for g := range p.Groups {
				p.Groups[g].MaxSize = p.Groups[g].MaxSize * 7 / 10
			}
			r := solve(b, p)
			var list []placement.Conflict
			for b.Loop() {
				var err error
				if list, err = placement.Conflicts(b.Context(), p, r, nil); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(len(list)), "conflicts")
			if len(list) > 0 {
				b.ReportMetric(float64(len(list[0].Constraints)), "first")
			}
		})
	}
}
