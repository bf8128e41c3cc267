package placement_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"gritward/internal/placement"
)

// only is the problem with a set of its constraints and no others.
func only(p placement.Problem, set []placement.Constraint) placement.Problem {
	var taken []placement.Constraint
	for _, c := range placement.Constraints(p) {
		if !slices.Contains(set, c) {
			taken = append(taken, c)
		}
	}
	return placement.Without(p, taken...)
}

func canHold(p placement.Problem, set []placement.Constraint) bool {
	return possible(only(p, set))
}

// demanding draws a small problem in which much is demanded.
func demanding(t *rapid.T, riders, groups int) placement.Problem {
	p := small(t)
	p.Riders = p.Riders[:min(riders, len(p.Riders))]
	p.Groups = p.Groups[:min(groups, len(p.Groups))]
	for i := range p.Riders {
		r := &p.Riders[i]
		r.MustRide = rapid.IntRange(0, 2).Draw(t, "demanded") > 0
		if !slices.ContainsFunc(p.Groups, func(g placement.Group) bool { return g.ID == r.Pinned }) {
			r.Pinned = ""
		}
	}
	for g := range p.Groups {
		if len(p.Riders) < 2 {
			p.Groups[g].Leader, p.Groups[g].BackMarker = "", ""
		}
	}
	return p
}

// Against brute force: a conflict cannot hold, every part of it can, and no
// smaller set of constraints is a conflict.
func TestFindConflict(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := demanding(t, 4, 2)
		c := findConflict(t, p)
		all := placement.Constraints(p)
		if len(c.Constraints) == 0 {
			if !canHold(p, all) {
				t.Fatalf("nothing found, but not all can hold: %+v", p)
			}
			return
		}
		if canHold(p, c.Constraints) {
			t.Fatalf("can hold: %+v", c.Constraints)
		}
		if !c.Smallest {
			t.Fatalf("not the smallest: %+v", c.Constraints)
		}
		subsets(all, len(c.Constraints)-1, func(set []placement.Constraint) {
			if !canHold(p, set) {
				t.Fatalf("%+v is smaller than %+v", set, c.Constraints)
			}
		})
	})
}

// The same for larger problems, where only the parts of the conflict are tried.
func TestFindConflictNothingToSpare(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := demanding(t, 6, 3)
		c := findConflict(t, p)
		if len(c.Constraints) == 0 {
			return
		}
		if canHold(p, c.Constraints) {
			t.Fatalf("can hold: %+v", c.Constraints)
		}
		for i := range c.Constraints {
			if part := slices.Delete(slices.Clone(c.Constraints), i, i+1); !canHold(p, part) {
				t.Fatalf("%+v is not needed in %+v", c.Constraints[i], c.Constraints)
			}
		}
	})
}

// subsets calls f for every set of exactly the size: a smaller one that cannot
// hold would be part of one of these.
func subsets(all []placement.Constraint, size int, f func([]placement.Constraint)) {
	var from func(i int, set []placement.Constraint)
	from = func(i int, set []placement.Constraint) {
		if len(set) == size {
			f(set)
			return
		}
		for ; i < len(all); i++ {
			from(i+1, append(set, all[i]))
		}
	}
	from(0, nil)
}

func findConflict(t interface{ Fatal(...any) }, p placement.Problem) placement.Conflict {
	c, err := placement.FindConflict(context.Background(), p)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestFindConflictByHand(t *testing.T) {
	rider := func(id string, set func(*placement.Rider)) placement.Rider {
		r := placement.Rider{ID: id, PaceMaxKmh: 40, Standings: map[string]placement.Standing{"g": placement.Clear, "h": placement.Clear}}
		if set != nil {
			set(&r)
		}
		return r
	}
	must := func(r *placement.Rider) { r.MustRide = true }
	group := placement.Group{ID: "g", PaceKmh: 25, MinSize: 1, MaxSize: 2, BackPlaces: 1}
	tests := []struct {
		name string
		p    placement.Problem
		want string
	}{
		{"nothing demanded", placement.Problem{Riders: []placement.Rider{rider("a", nil)}, Groups: []placement.Group{{ID: "g", PaceKmh: 20}}}, ""},
		{"nobody at all", placement.Problem{}, ""},
		{"no group at all", placement.Problem{Riders: []placement.Rider{rider("a", must)}}, "rides a"},
		{"held", placement.Problem{Riders: []placement.Rider{rider("a", func(r *placement.Rider) {
			r.MustRide, r.Standings = true, nil
		})}, Groups: []placement.Group{group}}, "rides a, held a g"},
		{"full", placement.Problem{Riders: []placement.Rider{rider("a", must), rider("b", must), rider("c", must)},
			Groups: []placement.Group{group}}, "rides a, rides b, rides c, most g"},
		{"the smaller of two", placement.Problem{Riders: []placement.Rider{rider("a", must), rider("b", must), rider("c", must), rider("d", func(r *placement.Rider) {
			r.MustRide, r.Pinned, r.Standings = true, "g", nil
		})}, Groups: []placement.Group{group}}, "rides d, held d g"},
		{"no leader", placement.Problem{NeedLeader: true, Riders: []placement.Rider{rider("a", must)}, Groups: []placement.Group{group}},
			"rides a, leader g"},
		{"must run with nobody to mark the back", placement.Problem{NeedBackMarker: true, Riders: []placement.Rider{rider("a", nil)},
			Groups: []placement.Group{{ID: "g", PaceKmh: 25, MaxSize: 2, MustRun: true}}}, "runs g, back marker g"},
		{"junior without guardian", placement.Problem{Riders: []placement.Rider{rider("a", func(r *placement.Rider) { r.MustRide, r.Junior = true, true })},
			Groups: []placement.Group{group}}, "rides a, guardian a"},
		{"party in two minds", placement.Problem{Riders: []placement.Rider{
			rider("a", func(r *placement.Rider) { r.MustRide, r.Party, r.Pinned = true, "p", "g" }),
			rider("b", func(r *placement.Rider) { r.Party, r.Pinned = "p", "h" })},
			Groups: []placement.Group{group, {ID: "h", PaceKmh: 20, MaxSize: 2}}}, "rides a, pinned a g, pinned b h, together p"},
		{"two at the back, one place", placement.Problem{Riders: []placement.Rider{
			rider("a", func(r *placement.Rider) {
				r.MustRide, r.Standings = true, map[string]placement.Standing{"g": placement.Back}
			}),
			rider("b", func(r *placement.Rider) {
				r.MustRide, r.Standings = true, map[string]placement.Standing{"g": placement.Back}
			})},
			Groups: []placement.Group{group}}, "rides a, rides b, back g"},
		{"named, but held", placement.Problem{Riders: []placement.Rider{rider("a", func(r *placement.Rider) { r.Standings, r.MayLead = nil, true }), rider("b", must)},
			Groups: []placement.Group{{ID: "g", PaceKmh: 25, MaxSize: 2, Leader: "a"}}}, "rides b, held a g, named leader a g"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := words(findConflict(t, tt.p).Constraints); got != tt.want {
				t.Errorf("got  %q\nwant %q", got, tt.want)
			}
		})
	}
}

func words(list []placement.Constraint) string {
	kinds := [...]string{"rides", "others", "runs", "pinned", "held", "guardian", "together", "back", "most", "least", "leader", "back marker", "named leader", "named back marker"}
	var out []string
	for _, c := range list {
		out = append(out, strings.Join(strings.Fields(fmt.Sprint(kinds[c.Kind], " ", c.Rider, " ", c.Group, c.Party)), " "))
	}
	return strings.Join(out, ", ")
}

// The order in which riders and groups come in does not change what is found.
func TestFindConflictSameAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := demanding(t, 6, 3)
		q := p
		q.Riders = rapid.Permutation(p.Riders).Draw(t, "riders")
		q.Groups = rapid.Permutation(p.Groups).Draw(t, "groups")
		a, b := findConflict(t, p), findConflict(t, q)
		if diff := cmp.Diff(a, b); diff != "" {
			t.Fatalf("depends on the order: %s", diff)
		}
	})
}

func TestFindConflictRefuses(t *testing.T) {
	if _, err := placement.FindConflict(context.Background(), placement.Problem{Riders: []placement.Rider{{}}}); err == nil {
		t.Error("a malformed problem is taken")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	p := placement.Problem{Riders: []placement.Rider{{ID: "a", MustRide: true}}, Groups: []placement.Group{{ID: "g", PaceKmh: 20, MaxSize: 1}}}
	if c, err := placement.FindConflict(ctx, p); err == nil {
		t.Errorf("an ended context gives %+v", c)
	}
}
