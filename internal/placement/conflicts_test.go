package placement_test

import (
	"context"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"gritward/internal/placement"
)

// asked is the problem with the wishes and rules of a conflict and no others; if
// others is among them everybody placed must ride.
func asked(p placement.Problem, r placement.Result, set []placement.Constraint) placement.Problem {
	for i := range p.Riders {
		p.Riders[i].MustRide = false
	}
	for i := range p.Groups {
		p.Groups[i].MustRun = false
	}
	p = only(p, set)
	for _, c := range set {
		for i := range p.Riders {
			id := p.Riders[i].ID
			placed := slices.ContainsFunc(r.Seats(), func(s placement.Seat) bool { return s.Rider == id })
			if c.Kind == placement.Rides && c.Rider == id || c.Kind == placement.OthersRide && placed {
				p.Riders[i].MustRide = true
			}
		}
		for i := range p.Groups {
			if c.Kind == placement.Runs && c.Group == p.Groups[i].ID {
				p.Groups[i].MustRun = true
			}
		}
	}
	return p
}

// Every rider without a place is told of once, by constraints of which brute force
// finds that they cannot hold together and that all but one of them can.
func TestConflicts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := small(t)
		for i := range p.Riders {
			p.Riders[i].MustRide = false
		}
		for i := range p.Groups {
			p.Groups[i].MustRun = false
		}
		r := solve(t, p)
		conflicts, err := placement.Conflicts(context.Background(), p, r, nil)
		if err != nil {
			t.Fatal(err)
		}
		told := map[string]bool{}
		for i, c := range conflicts {
			if i > 0 && len(c.Constraints) < len(conflicts[i-1].Constraints) {
				t.Fatalf("a smaller one comes later: %+v", conflicts)
			}
			first := c.Constraints[0]
			for _, id := range append([]string{first.Rider}, c.Likewise...) {
				if first.Kind != placement.Rides || told[id] {
					t.Fatalf("%s is told of twice, or not as a wish: %+v", id, c)
				}
				told[id] = true
				set := slices.Concat([]placement.Constraint{{Kind: placement.Rides, Rider: id}}, c.Constraints[1:])
				if possible(asked(p, r, set)) {
					t.Fatalf("can hold: %+v", set)
				}
			}
			for j := range c.Constraints {
				if part := slices.Delete(slices.Clone(c.Constraints), j, j+1); !possible(asked(p, r, part)) {
					t.Fatalf("%+v is not needed in %+v", c.Constraints[j], c.Constraints)
				}
			}
		}
		for _, one := range r.Unplaced {
			if !told[one.Rider] {
				t.Fatalf("nothing is told of %s: %+v", one.Rider, conflicts)
			}
		}
	})
}

// TestConflictsOfGroups: groups that must run, and cannot.
func TestConflictsOfGroups(t *testing.T) {
	both := map[string]placement.Standing{"g": placement.Clear, "h": placement.Clear}
	p := placement.Problem{
		NeedLeader: true,
		Riders: []placement.Rider{
			{ID: "a", PaceMaxKmh: 30, MayLead: true, Standings: both}, {ID: "b", PaceMaxKmh: 30, Standings: both}},
		Groups: []placement.Group{
			{ID: "g", PaceKmh: 25, MinSize: 1, MaxSize: 4, MustRun: true}, {ID: "h", PaceKmh: 20, MinSize: 1, MaxSize: 4}},
	}
	r := solve(t, p)
	conflicts, err := placement.Conflicts(context.Background(), p, r, []string{"g", "h"})
	if err != nil {
		t.Fatal(err)
	}
	if len(conflicts) != 1 || words(conflicts[0].Constraints) != "runs g, runs h, leader g, leader h" {
		t.Errorf("%+v", conflicts)
	}
}
