package placement_test

import (
	"context"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"gritward/internal/placement"
)

// Against brute force: what it takes for a rider to ride in each group, and that
// what is said to bind does, while any part of it does not.
func TestOptions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := small(t)
		for i := range p.Riders {
			p.Riders[i].MustRide = false
		}
		for i := range p.Groups {
			p.Groups[i].MustRun = false
		}
		p.Riders = p.Riders[:min(5, len(p.Riders))]
		if len(p.Riders) < 2 {
			return
		}
		r := solve(t, p)
		who := p.Riders[0].ID
		options, err := placement.Options(context.Background(), p, r.Objective, who)
		if err != nil {
			t.Fatal(err)
		}
		for _, o := range options {
			if pin := p.Riders[0].Pinned; pin != "" && pin != o.Group {
				if o.Possible || words(o.Binding) != "pinned "+who+" "+pin {
					t.Fatalf("pinned to %s, but %+v", pin, o)
				}
				continue
			}
			forced := placement.Forced(p, who, o.Group)
			best, _, found := brute(forced)
			if o.Possible != found || found && o.Objective != best {
				t.Fatalf("group %s: %+v, brute force: possible %v, %+v", o.Group, o, found, best)
			}
			if !found {
				checkBinding(t, forced, who, o)
			}
			for _, c := range o.Limits {
				freed := placement.Without(p, c)
				most, _, _ := brute(freed)
				if there, _, found := brute(placement.Forced(freed, who, o.Group)); !found || there != most {
					t.Fatalf("group %s: without %+v the best is %+v, with the rider there %+v", o.Group, c, most, there)
				}
			}
		}
	})
}

func checkBinding(t *rapid.T, forced placement.Problem, who string, o placement.Option) {
	wish := []placement.Constraint{
		{Kind: placement.Rides, Rider: who}, {Kind: placement.PinnedTo, Rider: who, Group: o.Group}}
	if canHold(forced, slices.Concat(wish, o.Binding)) {
		t.Fatalf("group %s: %+v does not bind", o.Group, o.Binding)
	}
	for i := range o.Binding {
		if part := slices.Delete(slices.Clone(o.Binding), i, i+1); !canHold(forced, slices.Concat(wish, part)) {
			t.Fatalf("group %s: %+v is not needed in %+v", o.Group, o.Binding[i], o.Binding)
		}
	}
}

func TestLetsRun(t *testing.T) {
	rider := func(id string, lead, mark bool) placement.Rider {
		return placement.Rider{ID: id, PaceMaxKmh: 40, MayLead: lead, MayMarkBack: mark,
			Standings: map[string]placement.Standing{"g": placement.Clear}}
	}
	tests := []struct {
		name   string
		riders []placement.Rider
		min    int
		want   placement.Additions
	}{
		{"one to mark the back", []placement.Rider{rider("a", true, false), rider("b", false, false), rider("c", false, false)}, 4,
			placement.Additions{BackMarkers: 1}},
		{"one to lead", []placement.Rider{rider("a", false, true), rider("b", false, false), rider("c", false, true), rider("d", false, true)}, 4,
			placement.Additions{Leaders: 1}},
		{"one to lead, the other can do either", []placement.Rider{rider("a", true, true), rider("b", false, false), rider("c", false, false), rider("d", false, false)}, 4,
			placement.Additions{Leaders: 1}},
		{"one more rider", []placement.Rider{rider("a", true, true), rider("b", true, true), rider("c", false, false)}, 4,
			placement.Additions{Riders: 1}},
		{"all of them", nil, 4, placement.Additions{Leaders: 1, BackMarkers: 1, Riders: 2}},
		{"both roles", []placement.Rider{rider("a", false, false)}, 0, placement.Additions{Leaders: 1, BackMarkers: 1}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p := placement.Problem{NeedLeader: true, NeedBackMarker: true, Riders: tt.riders,
				Groups: []placement.Group{{ID: "g", PaceKmh: 25, MinSize: tt.min, MaxSize: 12}}}
			got, found, err := placement.LetsRun(context.Background(), p, "g")
			if err != nil || !found || got != tt.want {
				t.Errorf("got %+v, %v, %v, want %+v", got, found, err, tt.want)
			}
		})
	}
	p := placement.Problem{Groups: []placement.Group{{ID: "g", PaceKmh: 25}}}
	if got, found, err := placement.LetsRun(context.Background(), p, "g"); found || err != nil {
		t.Errorf("a group without places would run with %+v: %v", got, err)
	}
}
