package proof_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gritward/internal/placement"
	"gritward/internal/placement/placementtest"
	"gritward/internal/placement/proof"
)

// Each change makes a good certificate bad, and the error says how.
func TestCheckRefusesTampering(t *testing.T) {
	tests := []struct {
		name   string
		change func(*placement.Problem, *placement.Result, *placement.Certificate)
		want   string
	}{
		{"nothing", func(*placement.Problem, *placement.Result, *placement.Certificate) {}, ""},
		{"objective", func(_ *placement.Problem, r *placement.Result, _ *placement.Certificate) { r.Objective.Moves-- }, "objective is"},
		{"bound", func(_ *placement.Problem, r *placement.Result, _ *placement.Certificate) { r.Bound.Moves++ }, "says it is proven"},
		{"rider twice", func(_ *placement.Problem, r *placement.Result, _ *placement.Certificate) {
			r.Groups[0].Riders = append(r.Groups[0].Riders, r.Groups[0].Riders[0])
		}, "breaks a rule"},
		{"claim raised", func(_ *placement.Problem, r *placement.Result, c *placement.Certificate) { c.Claim++ }, "below"},
		{"claim lowered", func(_ *placement.Problem, r *placement.Result, c *placement.Certificate) { c.Claim-- }, "above the claim"},
		{"scale without order", func(_ *placement.Problem, _ *placement.Result, c *placement.Certificate) { c.Scale.Preference = 1 }, "order of objectives"},
		{"scale that wraps", func(_ *placement.Problem, _ *placement.Result, c *placement.Certificate) {
			c.Scale.Unplaced = math.MaxInt64
		}, "too large"},
		{"back place below nothing", func(_ *placement.Problem, _ *placement.Result, c *placement.Certificate) {
			c.Prices[0].Groups[0].Back = -1
		}, "less than nothing"},
		{"prices that wrap", func(_ *placement.Problem, _ *placement.Result, c *placement.Certificate) {
			c.Prices[0].Groups[0].Size = math.MinInt64
		}, "too large"},
		{"prices of fewer groups", func(_ *placement.Problem, _ *placement.Result, c *placement.Certificate) {
			c.Prices[0].Groups = c.Prices[0].Groups[1:]
		}, "prices 0 are for"},
		{"parts of nothing", func(_ *placement.Problem, _ *placement.Result, c *placement.Certificate) { c.Prices[0].Per = 0 }, "parts to a unit"},
		{"parts that wrap", func(_ *placement.Problem, _ *placement.Result, c *placement.Certificate) {
			c.Prices[0].Per = math.MaxInt64
		}, "parts to a unit"},
		{"no prices", func(_ *placement.Problem, _ *placement.Result, c *placement.Certificate) { c.Prices = nil }, "no prices"},
		{"said to be impossible", func(_ *placement.Problem, _ *placement.Result, c *placement.Certificate) { c.Root = placement.Case{} }, "nothing shows"},
		{"said to be a ray", func(_ *placement.Problem, _ *placement.Result, c *placement.Certificate) {
			c.Root = placement.Case{Split: placement.ByRay}
		}, "below 1"},
		{"unknown group", func(_ *placement.Problem, _ *placement.Result, c *placement.Certificate) {
			c.Root = placement.Case{Split: placement.ByRunning, Group: "x"}
		}, `no group "x"`},
		{"unknown rider", func(_ *placement.Problem, _ *placement.Result, c *placement.Certificate) {
			c.Root = placement.Case{Split: placement.ByGroup, Rider: "x"}
		}, `no rider "x"`},
		{"no junior", func(_ *placement.Problem, _ *placement.Result, c *placement.Certificate) {
			c.Root = placement.Case{Split: placement.ByJunior, Rider: "r0000"}
		}, "no junior"},
		{"role of a group that may not run", func(_ *placement.Problem, _ *placement.Result, c *placement.Certificate) {
			c.Root = placement.Case{Split: placement.ByLeader, Group: "g00"}
		}, "need not have"},
		{"unknown split", func(_ *placement.Problem, _ *placement.Result, c *placement.Certificate) { c.Root.Split = 99 }, "no such split"},
		{"a case left out", func(_ *placement.Problem, _ *placement.Result, c *placement.Certificate) {
			c.Root.Cases = c.Root.Cases[1:]
		}, "cases of"},
		{"a rider more", func(p *placement.Problem, _ *placement.Result, _ *placement.Certificate) {
			p.Riders = append(slices.Clone(p.Riders), placement.Rider{ID: "z"})
		}, "order of objectives"},
		{"a rider less", func(p *placement.Problem, _ *placement.Result, _ *placement.Certificate) { p.Riders = p.Riders[1:] }, "breaks a rule"},
		{"an issue forgotten", func(p *placement.Problem, _ *placement.Result, _ *placement.Certificate) {
			p.Riders = slices.Clone(p.Riders)
			for i := range p.Riders {
				p.Riders[i].Previous = ""
			}
		}, "objective is"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p := placementtest.Club(60, 5, 1)
			r, c := certified(t, p)
			tt.change(&p, &r, &c)
			err := proof.Check(p, r, c)
			if tt.want == "" && err != nil || tt.want != "" && (err == nil || !strings.Contains(err.Error(), tt.want)) {
				t.Errorf("error %v, want %q", err, tt.want)
			}
		})
	}
}

// Whatever is done to a certificate, it never shows what is not so: that the
// best answer costs more than it does.
func TestCheckNeverShowsWhatIsNotSo(t *testing.T) {
	for seed := range 1600 {
		p := placementtest.Drawn(seed)
		if seed >= 1500 {
			p = placementtest.Short(placementtest.Club(30, 4, uint64(seed)), 6+seed%5)
		}
		if seed >= 1550 {
			p = placementtest.Short(placementtest.Social(60, 4, uint64(seed)), 6+seed%4)
		}
		r, good := certified(t, p)
		if r.Infeasible {
			continue
		}
		rng := rand.New(rand.NewPCG(uint64(seed), 1))
		for range 8 {
			c := good
			c.Claim += 1 + rng.Int64N(3)*rng.Int64N(good.Scale.Unplaced)
			c.Prices = nil
			for _, prices := range good.Prices {
				prices.Groups = slices.Clone(prices.Groups)
				c.Prices = append(c.Prices, prices)
			}
			for range rng.IntN(6) {
				mangle(rng, p, &c)
			}
			c.Root = mangled(rng, p, c.Root, len(c.Prices))
			if err := proof.Check(p, r, c); err == nil {
				t.Fatalf("seed %d: accepted\n%+v\n%+v\n%+v", seed, p, r, c)
			}
		}
	}
}

// A placement that exists is never shown not to, whatever the certificate.
func TestCheckNeverShowsThatThereIsNone(t *testing.T) {
	none := 0
	for seed := range 1500 {
		p := placementtest.Drawn(seed)
		r, good := certified(t, p)
		if r.Infeasible {
			none++
			continue
		}
		wrong := placement.Result{Infeasible: true, Proven: true}
		rng := rand.New(rand.NewPCG(uint64(seed), 2))
		for range 4 {
			c := good
			c.Root = mangled(rng, p, c.Root, len(c.Prices))
			if err := proof.Check(p, wrong, c); err == nil {
				t.Fatalf("seed %d: accepted\n%+v\n%+v\n%+v", seed, p, r, c)
			}
		}
	}
	if none == 0 {
		t.Error("every problem drawn has a placement: the test shows less than it should")
	}
}

// mangle changes one price.
func mangle(rng *rand.Rand, p placement.Problem, c *placement.Certificate) {
	g := &c.Prices[rng.IntN(len(c.Prices))].Groups[rng.IntN(len(p.Groups))]
	by := rng.Int64N(2*c.Scale.Unplaced) - c.Scale.Unplaced
	switch rng.IntN(4) {
	case 0:
		g.Size += by
	case 1:
		g.Back = max(0, g.Back+by)
	case 2:
		g.Lead += by
	case 3:
		g.Mark += by
	}
}

// mangled changes some cases of a tree.
func mangled(rng *rand.Rand, p placement.Problem, c placement.Case, prices int) placement.Case {
	if rng.IntN(6) == 0 {
		c.Split = placement.Split(rng.IntN(int(placement.ByBackMarker) + 1))
	}
	if rng.IntN(6) == 0 {
		c.Prices = rng.IntN(prices)
	}
	if c.Group != "" && rng.IntN(6) == 0 {
		c.Group = p.Groups[rng.IntN(len(p.Groups))].ID
	}
	cases := slices.Clone(c.Cases)
	for i := range cases {
		cases[i] = mangled(rng, p, cases[i], prices)
	}
	if len(cases) > 1 && rng.IntN(6) == 0 {
		cases[0], cases[1] = cases[1], cases[0]
	}
	c.Cases = cases
	return c
}

// The checker takes data from package placement, and the check of the rules;
// nothing of the search.
func TestCheckerStandsAlone(t *testing.T) {
	data := []string{
		"Problem", "Result", "Objective", "Rider", "Group", "Certificate", "Scale", "Prices", "GroupPrices", "Case",
		"Impossible", "ByPrices", "ByRay", "ByRunning", "ByGroup", "ByJunior", "ByLeader", "ByBackMarker",
		"Held", "Back", "MaxRiders", "MaxGroups", "Check",
	}
	files, err := filepath.Glob("*.go")
	if err != nil || len(files) == 0 {
		t.Fatal("no files", err)
	}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			if s, ok := n.(*ast.SelectorExpr); ok {
				if x, ok := s.X.(*ast.Ident); ok && x.Name == "placement" && !slices.Contains(data, s.Sel.Name) {
					t.Errorf("%s uses placement.%s", name, s.Sel.Name)
				}
			}
			return true
		})
	}
}
