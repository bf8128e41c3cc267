//go:build milp

package placement_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"gritward/internal/placement"
	"gritward/internal/placement/milp"
	"gritward/internal/placement/placementtest"
)

// program is a placement problem as a linear program, written from the rules of
// the problem and not from the solver: x says who rides where, y which groups run.
type program struct {
	milp.Model
	x, lead, mark map[[2]int]milp.Var // rider, group
	y             []milp.Var
}

func of(vars map[[2]int]milp.Var, r, g int) milp.Var {
	if v, ok := vars[[2]int{r, g}]; ok {
		return v
	}
	return milp.None
}

func newProgram(p placement.Problem) *program {
	m := &program{x: map[[2]int]milp.Var{}, lead: map[[2]int]milp.Var{}, mark: map[[2]int]milp.Var{}}
	for range p.Groups {
		m.y = append(m.y, m.Binary())
	}
	for r, rider := range p.Riders {
		for g, group := range p.Groups {
			standing, known := rider.Standings[group.ID]
			if !known || standing == placement.Held || rider.Pinned != "" && rider.Pinned != group.ID || rider.Junior && rider.Guardian == "" {
				continue
			}
			m.x[[2]int{r, g}] = m.Binary()
			if rider.MayLead && !rider.Junior && (group.Leader == "" || group.Leader == rider.ID) {
				m.lead[[2]int{r, g}] = m.Binary()
			}
			if rider.MayMarkBack && !rider.Junior && (group.BackMarker == "" || group.BackMarker == rider.ID) {
				m.mark[[2]int{r, g}] = m.Binary()
			}
		}
	}
	for g, group := range p.Groups {
		m.groupRows(p, g, group)
	}
	m.riderRows(p)
	return m
}

func (m *program) groupRows(p placement.Problem, g int, group placement.Group) {
	var size, backs, least, leaders, markers milp.Sum
	for r, rider := range p.Riders {
		size.Add(1, of(m.x, r, g))
		least.Add(1, of(m.x, r, g))
		if rider.Standings[group.ID] == placement.Back {
			backs.Add(1, of(m.x, r, g))
		}
		leaders.Add(1, of(m.lead, r, g))
		markers.Add(1, of(m.mark, r, g))
		var roles milp.Sum // nobody has two roles, nor one in another group
		roles.Add(1, of(m.lead, r, g))
		roles.Add(1, of(m.mark, r, g))
		if len(roles) > 0 {
			roles.Add(-1, of(m.x, r, g))
			m.Row(roles, "<=", 0)
		}
	}
	size.Add(-int64(group.MaxSize), m.y[g])
	least.Add(-int64(max(1, group.MinSize)), m.y[g])
	m.Row(size, "<=", 0)
	m.Row(least, ">=", 0)
	m.Row(backs, "<=", int64(group.BackPlaces))
	if p.NeedLeader && !group.LeaderWaived || group.Leader != "" {
		leaders.Add(-1, m.y[g])
		m.Row(leaders, "=", 0)
	}
	if p.NeedBackMarker && !group.BackMarkerWaived || group.BackMarker != "" {
		markers.Add(-1, m.y[g])
		m.Row(markers, "=", 0)
	}
	if group.MustRun {
		var runs milp.Sum
		runs.Add(1, m.y[g])
		m.Row(runs, "=", 1)
	}
}

func (m *program) riderRows(p placement.Problem) {
	index, first := map[string]int{}, map[string]int{}
	for r, rider := range p.Riders {
		index[rider.ID] = r
	}
	for r, rider := range p.Riders {
		var once milp.Sum
		for g := range p.Groups {
			once.Add(1, of(m.x, r, g))
		}
		if m.Row(once, "<=", 1); rider.MustRide {
			m.Row(once, ">=", 1)
		}
		if o, ok := first[rider.Party]; ok {
			m.tie(p, r, o, "=")
		} else if rider.Party != "" {
			first[rider.Party] = r
		}
		if guardian, ok := index[rider.Guardian]; ok && rider.Junior {
			m.tie(p, r, guardian, "<=")
		}
	}
}

// tie keeps a rider to the groups of another.
func (m *program) tie(p placement.Problem, r, to int, sense string) {
	for g := range p.Groups {
		var s milp.Sum
		s.Add(1, of(m.x, r, g))
		s.Add(-1, of(m.x, to, g))
		m.Row(s, sense, 0)
	}
}

// levels are the objectives in strict order, each to be minimised.
func (m *program) levels(p placement.Problem) []milp.Sum {
	levels := make([]milp.Sum, 4)
	for r, rider := range p.Riders {
		for g, group := range p.Groups {
			x := of(m.x, r, g)
			levels[0].Add(-1, x)
			levels[1].Add(int64(placement.Discomfort(rider, group)), x)
			if rider.Preferred == group.ID {
				levels[2].Add(-1, x)
			}
			if rider.Previous == group.ID {
				levels[3].Add(-1, x)
			}
		}
	}
	return levels
}

// optimum solves a problem level by level, each with those before it fixed.
func optimum(t *testing.T, solver milp.Solver, p placement.Problem) (o placement.Objective, infeasible bool) {
	t.Helper()
	m := newProgram(p)
	var best [4]int64
	for i, level := range m.levels(p) {
		m.Minimise(level)
		a, err := solver.Solve(context.Background(), t.TempDir(), &m.Model, 4*time.Minute)
		if err != nil {
			t.Fatal(err)
		}
		if i == 0 && a.Infeasible {
			return o, true
		}
		if !a.Optimal {
			t.Fatalf("%s did not finish level %d: %+v", solver.Name, i+1, a)
		}
		best[i] = a.Objective
		m.Row(level, "=", a.Objective)
	}
	hadGroup := 0
	for _, r := range p.Riders {
		if r.Previous != "" {
			hadGroup++
		}
	}
	return placement.Objective{Placed: int(-best[0]), Discomfort: int(best[1]), PreferencesMet: int(-best[2]), Moves: hadGroup + int(best[3])}, false
}

// GLPK and CBC (Debian's glpk-utils and coinor-cbc) find the same optimum of each
// objective, on random problems from the smallest to a large club's.
func TestSolveAgainstMILP(t *testing.T) {
	for _, solver := range milp.Solvers {
		if err := solver.Find(); err != nil {
			t.Fatal(err)
		}
	}
	compare := func(name string, p placement.Problem) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			r := solve(t, p)
			if !r.Proven {
				t.Fatal("not proven")
			}
			for _, solver := range milp.Solvers {
				o, infeasible := optimum(t, solver, p)
				if o != r.Objective || infeasible != r.Infeasible {
					t.Errorf("%s: %+v, infeasible %v; got %+v, %v", solver.Name, o, infeasible, r.Objective, r.Infeasible)
				}
			}
		})
	}
	for seed := range 24 {
		compare(fmt.Sprintf("small/%d", seed), placementtest.Drawn(seed))
	}
	for _, size := range []struct{ riders, groups, seeds int }{{24, 3, 12}, {60, 5, 12}, {120, 6, 8}, {200, 8, 8}} {
		for seed := range size.seeds {
			p := placementtest.Short(placementtest.Club(size.riders, size.groups, uint64(100+seed)), 10-seed%3)
			compare(fmt.Sprintf("%dx%d/%d", size.riders, size.groups, seed), p)
		}
	}
}
