//go:build milp

package placement

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"gritward/internal/placement/milp"
)

// program is a reference instance as the README beside the instances writes it.
func (ref reference) program() *milp.Model {
	m := &milp.Model{}
	var objective milp.Sum
	runs := make([]milp.Var, len(ref.Groups))
	size, backs, leaders := make([]milp.Sum, len(runs)), make([]milp.Sum, len(runs)), make([]milp.Sum, len(runs))
	for g := range runs {
		runs[g] = m.Binary()
	}
	for r, row := range ref.Costs {
		var once milp.Sum
		for g, cost := range row {
			x := m.Binary()
			objective.Add(cost, x)
			once.Add(1, x)
			size[g].Add(1, x)
			if ref.Riders[r].Back {
				backs[g].Add(1, x)
			}
			if ref.Riders[r].Leader {
				leaders[g].Add(1, x)
			}
		}
		m.Row(once, "=", 1)
	}
	for g, q := range ref.Groups {
		against := func(s milp.Sum, times int) milp.Sum {
			s = slices.Clone(s)
			s.Add(-int64(times), runs[g])
			return s
		}
		m.Row(against(size[g], q.Cap), "<=", 0)
		m.Row(against(backs[g], q.BackCap), "<=", 0)
		m.Row(against(size[g], q.Min), ">=", 0)
		m.Row(against(leaders[g], 1), ">=", 0)
	}
	m.Minimise(objective)
	return m
}

// How many times faster than the faster of GLPK and CBC, side by side, with a
// minute for each: the median of our runs, the best of theirs, which include
// starting and reading the file.
func BenchmarkAgainstMILP(b *testing.B) {
	const atLeast, hardAtLeast, most = 10, 100, time.Minute
	refs := references(b)
	for _, name := range sorted(refs) {
		b.Run(name, func(b *testing.B) {
			ref, m := refs[name], refs[name].matrix()
			theirs := fastest(b, ref, most)
			var times []time.Duration
			for b.Loop() {
				from := time.Now()
				if _, proven := solveMatrix(context.Background(), m, DefaultNodeLimit); !proven {
					b.Fatal("not proven")
				}
				times = append(times, time.Since(from))
			}
			slices.Sort(times)
			ours := times[len(times)/2]
			limit := float64(atLeast)
			if strings.HasSuffix(name, "-hard") {
				limit = hardAtLeast
			}
			ratio := float64(theirs) / float64(ours)
			b.ReportMetric(ratio, "times_faster")
			b.ReportMetric(limit, "at_least")
			b.ReportMetric(theirs.Seconds()*1000, "theirs_ms")
			if ratio < limit {
				b.Errorf("%.0f times faster, at least %.0f", ratio, limit)
			}
		})
	}
}

func sorted(refs map[string]reference) []string {
	var names []string
	for name := range refs {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// fastest is the time of the faster solver, the best of three runs of each, or of
// fewer when they take long.
func fastest(b *testing.B, ref reference, most time.Duration) time.Duration {
	folder := b.TempDir()
	file := filepath.Join(folder, "problem.lp")
	f, err := os.Create(file)
	if err != nil {
		b.Fatal(err)
	}
	if err := errors.Join(ref.program().Write(f), f.Close()); err != nil {
		b.Fatal(err)
	}
	best := most
	for _, solver := range milp.Solvers {
		for range 3 {
			from := time.Now()
			a, err := solver.SolveFile(context.Background(), file, most)
			if err != nil {
				b.Fatal(err)
			}
			if a.Optimal != (ref.Optimum != nil) && a != (milp.Answer{}) || a.Optimal && a.Objective != *ref.Optimum {
				b.Fatalf("%s: %+v, want %+v", solver.Name, a, ref.Optimum)
			}
			took := time.Since(from)
			if best = min(best, took); took > time.Second {
				break
			}
		}
	}
	return best
}
