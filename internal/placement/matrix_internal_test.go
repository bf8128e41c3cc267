package placement

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
)

const referenceDir = "../../testdata/placement"

type reference struct {
	Name    string
	Status  string
	Optimum *int64
	Costs   [][]int64
	Best    []int `json:"best_assignment"`
	Riders  []struct{ Leader, Back bool }
	Groups  []struct {
		Cap     int
		BackCap int `json:"back_cap"`
		Min     int
	}
}

func references(t testing.TB) map[string]reference {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(referenceDir, "*.json"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no reference instances in %s: %v", referenceDir, err)
	}
	refs := map[string]reference{}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		var ref reference
		if err := json.Unmarshal(data, &ref); err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		refs[ref.Name] = ref
	}
	return refs
}

func (ref reference) matrix() matrix {
	m := matrix{costs: ref.Costs}
	for _, r := range ref.Riders {
		m.leader, m.back = append(m.leader, r.Leader), append(m.back, r.Back)
	}
	for _, g := range ref.Groups {
		m.max, m.backs, m.min = append(m.max, g.Cap), append(m.backs, g.BackCap), append(m.min, g.Min)
	}
	return m
}

// price sums the cost of an assignment and fails when it breaks a rule.
func (ref reference) price(t *testing.T, group []int) int64 {
	t.Helper()
	var sum int64
	size, backs, leaders := make([]int, len(ref.Groups)), make([]int, len(ref.Groups)), make([]int, len(ref.Groups))
	for r, g := range group {
		if g < 0 || g >= len(ref.Groups) {
			t.Fatalf("rider %d is in no group", r)
		}
		sum += ref.Costs[r][g]
		size[g]++
		if ref.Riders[r].Back {
			backs[g]++
		}
		if ref.Riders[r].Leader {
			leaders[g]++
		}
	}
	for g, q := range ref.Groups {
		if size[g] > 0 && (size[g] > q.Cap || size[g] < q.Min || backs[g] > q.BackCap || leaders[g] == 0) {
			t.Fatalf("group %d: %d riders, %d at the back, %d leaders: %+v", g, size[g], backs[g], leaders[g], q)
		}
	}
	return sum
}

// Optima found by the MILP solvers CBC and GLPK, which agree (see the README
// beside the instances).
func TestMatrixReachesReferenceOptima(t *testing.T) {
	for name, ref := range references(t) {
		t.Run(name, func(t *testing.T) {
			best, proven := solveMatrix(context.Background(), ref.matrix(), DefaultNodeLimit)
			if !proven {
				t.Fatal("not proven")
			}
			if ref.Status == "infeasible" {
				if best.found {
					t.Fatalf("found an answer of cost %d where none exists", best.cost)
				}
				return
			}
			if got := ref.price(t, best.group); got != *ref.Optimum || best.cost != got {
				t.Fatalf("cost %d, says %d, want %d", got, best.cost, *ref.Optimum)
			}
			if got := ref.price(t, ref.Best); got != *ref.Optimum {
				t.Fatalf("the reference's own assignment costs %d, want %d", got, *ref.Optimum)
			}
		})
	}
}

func BenchmarkMatrix(b *testing.B) {
	for name, ref := range references(b) {
		b.Run(name, func(b *testing.B) {
			m := ref.matrix()
			for b.Loop() {
				solveMatrix(context.Background(), m, DefaultNodeLimit)
			}
		})
	}
}
