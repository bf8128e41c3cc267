package proof_test

import (
	"context"
	"fmt"
	"testing"

	"gritward/internal/placement"
	"gritward/internal/placement/placementtest"
	"gritward/internal/placement/proof"
)

// certified solves a problem and certifies the answer.
func certified(t testing.TB, p placement.Problem) (placement.Result, placement.Certificate) {
	t.Helper()
	r, err := placement.Solve(context.Background(), p)
	if err != nil {
		t.Fatal(err)
	}
	c, err := placement.Certify(context.Background(), p, r)
	if err != nil {
		t.Fatal(err)
	}
	return r, c
}

func TestCheckSmall(t *testing.T) {
	kinds := map[placement.Split]int{}
	for seed := range 3000 {
		p := placementtest.Drawn(seed)
		r, c := certified(t, p)
		if err := proof.Check(p, r, c); err != nil || !r.Proven {
			t.Fatalf("seed %d: %v, proven %v\n%+v\n%+v\n%+v", seed, err, r.Proven, p, r, c)
		}
		count(c.Root, kinds)
	}
	for kind := placement.Impossible; kind <= placement.ByBackMarker; kind++ {
		if kinds[kind] == 0 {
			t.Errorf("no certificate has a case of kind %d: %v", kind, kinds)
		}
	}
}

func count(c placement.Case, kinds map[placement.Split]int) {
	kinds[c.Split]++
	for _, sub := range c.Cases {
		count(sub, kinds)
	}
}

func TestCheckClubs(t *testing.T) {
	for _, size := range [][2]int{{12, 3}, {60, 5}, {120, 6}, {200, 8}} {
		for seed := range uint64(6) {
			for _, inTen := range []int{10, 7} {
				t.Run(fmt.Sprintf("%dx%d/%d/%d", size[0], size[1], seed, inTen), func(t *testing.T) {
					p := placementtest.Short(placementtest.Club(size[0], size[1], seed), inTen)
					r, c := certified(t, p)
					if err := proof.Check(p, r, c); err != nil || !r.Proven {
						t.Fatalf("%v, proven %v", err, r.Proven)
					}
				})
			}
		}
	}
}

// Where one rider in three comes with another and there are places for six to nine in
// ten, the flow alone does not do.
func TestCheckSocial(t *testing.T) {
	parts := 0
	for _, size := range [][2]int{{60, 5}, {120, 6}, {200, 8}, {1000, 10}} {
		for seed := range uint64(8) {
			if size[0] == 1000 && seed > 1 {
				break
			}
			p := placementtest.Short(placementtest.Social(size[0], size[1], seed), 6+int(seed%4))
			r, c := certified(t, p)
			if err := proof.Check(p, r, c); err != nil || !r.Proven {
				t.Fatalf("%dx%d/%d: %v, proven %v", size[0], size[1], seed, err, r.Proven)
			}
			for _, prices := range c.Prices {
				if prices.Per > 1 {
					parts++
				}
			}
		}
	}
	if parts == 0 {
		t.Error("no certificate has prices in parts: the test shows less than it should")
	}
}

// A search cut short is certified to its bound, and to no more.
func TestCheckUnproven(t *testing.T) {
	unproven := 0
	for seed := range uint64(4) {
		for limit := 1; limit < 40; limit *= 3 {
			p := placementtest.Short(placementtest.Club(60, 5, seed), 8)
			p.NodeLimit = limit
			r, c := certified(t, p)
			if err := proof.Check(p, r, c); err != nil {
				t.Fatalf("seed %d, limit %d: %v", seed, limit, err)
			}
			if r.Proven {
				continue
			}
			unproven++
			r.Proven = true
			if proof.Check(p, r, c) == nil {
				t.Fatalf("seed %d, limit %d: taken for proven", seed, limit)
			}
			r.Bound = r.Objective
			if proof.Check(p, r, c) == nil {
				t.Fatalf("seed %d, limit %d: taken for proven", seed, limit)
			}
		}
	}
	if unproven == 0 {
		t.Error("no limit cut a search short: the test shows nothing")
	}
}

// A result that is allowed but not the best cannot be certified.
func TestCertifyRefusesLessThanTheBest(t *testing.T) {
	p := placementtest.Club(60, 5, 1)
	p.NodeLimit = 2
	r, err := placement.Solve(context.Background(), p)
	if err != nil || r.Proven {
		t.Fatal("want an answer cut short", err)
	}
	r.Proven, r.Bound = true, r.Objective
	if _, err := placement.Certify(context.Background(), p, r); err == nil {
		t.Error("certified")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := placement.Certify(ctx, p, r); err == nil {
		t.Error("certified though told to stop")
	}
}

func BenchmarkCheck(b *testing.B) {
	for _, size := range [][2]int{{60, 5}, {200, 8}, {1000, 10}} {
		p := placementtest.Club(size[0], size[1], 1)
		r, c := certified(b, p)
		name := fmt.Sprintf("%dx%d", size[0], size[1])
		b.Run(name+"/certify", func(b *testing.B) {
			for b.Loop() {
				if _, err := placement.Certify(context.Background(), p, r); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(name+"/check", func(b *testing.B) {
			for b.Loop() {
				if err := proof.Check(p, r, c); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(c.Size()), "cases")
			b.ReportMetric(float64(len(c.Prices)*size[1]*4), "prices")
		})
	}
}
