package placement

import (
	"fmt"
	"slices"
)

// Check verifies every hard rule of a result against a problem, in plain words;
// empty means that all hold. It looks at the seats and roles only and shares
// nothing with the search, so it holds for a result that somebody edited.
func Check(p Problem, r Result) []string {
	c := &checker{p: p, rider: map[string]Rider{}, group: map[string]Group{}, in: map[string]string{}}
	for _, x := range p.Riders {
		c.rider[x.ID] = x
	}
	for _, g := range p.Groups {
		c.group[g.ID] = g
	}
	listed := map[string]bool{}
	for _, g := range r.Groups {
		if _, ok := c.group[g.ID]; !ok || listed[g.ID] {
			c.failf("group %s: unknown, or listed twice", g.ID)
			continue
		}
		listed[g.ID] = true
		c.seat(g)
	}
	for _, g := range r.Groups {
		if c.group[g.ID].ID != "" {
			c.size(g)
			c.roles(g)
		}
	}
	for _, g := range p.Groups {
		if g.MustRun && !slices.ContainsFunc(r.Groups, func(x GroupResult) bool { return x.ID == g.ID && x.Runs }) {
			c.failf("group %s: must run", g.ID)
		}
	}
	c.everyone(r)
	for _, x := range p.Riders {
		c.company(x)
	}
	return c.faults
}

type checker struct {
	p      Problem
	rider  map[string]Rider
	group  map[string]Group
	in     map[string]string // group of each placed rider
	faults []string
}

func (c *checker) failf(format string, args ...any) {
	c.faults = append(c.faults, fmt.Sprintf(format, args...))
}

// seat notes who rides in a group, and checks each by themselves.
func (c *checker) seat(g GroupResult) {
	for _, id := range g.Riders {
		r, ok := c.rider[id]
		if !ok {
			c.failf("group %s: rider %s is not signed up", g.ID, id)
			continue
		}
		if at, ok := c.in[id]; ok {
			c.failf("group %s: rider %s is already in group %s", g.ID, id, at)
			continue
		}
		c.in[id] = g.ID
		if s, ok := r.Standings[g.ID]; !ok || s == Held {
			c.failf("group %s: rider %s is held there", g.ID, id)
		}
		if r.Pinned != "" && r.Pinned != g.ID {
			c.failf("group %s: rider %s is pinned to group %s", g.ID, id, r.Pinned)
		}
	}
}

func (c *checker) size(g GroupResult) {
	group, n, backs := c.group[g.ID], len(g.Riders), 0
	for _, id := range g.Riders {
		if c.rider[id].Standings[g.ID] == Back {
			backs++
		}
	}
	switch {
	case g.Runs && n == 0:
		c.failf("group %s: runs with nobody", g.ID)
	case !g.Runs && n > 0:
		c.failf("group %s: does not run, but has %d riders", g.ID, n)
	case g.Runs && n < group.MinSize:
		c.failf("group %s: %d riders, at least %d", g.ID, n, group.MinSize)
	case n > group.MaxSize:
		c.failf("group %s: %d riders, at most %d", g.ID, n, group.MaxSize)
	}
	if backs > group.BackPlaces {
		c.failf("group %s: %d riders of standing back, at most %d", g.ID, backs, group.BackPlaces)
	}
}

func (c *checker) roles(g GroupResult) {
	group := c.group[g.ID]
	if !g.Runs {
		if g.Leader != "" || g.BackMarker != "" {
			c.failf("group %s: does not run, but has a leader or back marker", g.ID)
		}
		return
	}
	if g.Leader == "" && c.p.NeedLeader && !group.LeaderWaived {
		c.failf("group %s: no leader", g.ID)
	}
	if g.BackMarker == "" && c.p.NeedBackMarker && !group.BackMarkerWaived {
		c.failf("group %s: no back marker", g.ID)
	}
	if group.Leader != "" && group.Leader != g.Leader {
		c.failf("group %s: %s is named leader, not %q", g.ID, group.Leader, g.Leader)
	}
	if group.BackMarker != "" && group.BackMarker != g.BackMarker {
		c.failf("group %s: %s is named back marker, not %q", g.ID, group.BackMarker, g.BackMarker)
	}
	if g.Leader != "" && g.Leader == g.BackMarker {
		c.failf("group %s: %s cannot be both leader and back marker", g.ID, g.Leader)
	}
	if g.Leader != "" {
		c.qualified(g, g.Leader, "leader", c.rider[g.Leader].MayLead)
	}
	if g.BackMarker != "" {
		c.qualified(g, g.BackMarker, "back marker", c.rider[g.BackMarker].MayMarkBack)
	}
}

func (c *checker) qualified(g GroupResult, id, role string, may bool) {
	switch {
	case c.in[id] != g.ID:
		c.failf("group %s: %s %s does not ride in it", g.ID, role, id)
	case c.rider[id].Junior:
		c.failf("group %s: %s %s is a junior", g.ID, role, id)
	case !may:
		c.failf("group %s: %s %s is not qualified", g.ID, role, id)
	}
}

// everyone checks that each rider is either in a group or among the unplaced.
func (c *checker) everyone(r Result) {
	out := map[string]bool{}
	for _, u := range r.Unplaced {
		if _, ok := c.rider[u.Rider]; !ok || out[u.Rider] {
			c.failf("rider %s: unplaced, but unknown or listed twice", u.Rider)
		}
		out[u.Rider] = true
	}
	for _, x := range c.p.Riders {
		_, placed := c.in[x.ID]
		if placed == out[x.ID] {
			c.failf("rider %s: must be either in a group or unplaced", x.ID)
		}
		if x.MustRide && !placed {
			c.failf("rider %s: must ride", x.ID)
		}
	}
}

// company checks a rider against the party and the guardian.
func (c *checker) company(x Rider) {
	for _, o := range c.p.Riders {
		if x.Party != "" && o.Party == x.Party && x.ID < o.ID && c.in[x.ID] != c.in[o.ID] {
			c.failf("party %s: %s rides in %q, %s in %q", x.Party, x.ID, c.in[x.ID], o.ID, c.in[o.ID])
		}
	}
	at, rides := c.in[x.ID]
	if x.Junior && rides && (x.Guardian == "" || c.in[x.Guardian] != at) {
		c.failf("group %s: junior %s rides without the guardian %q", at, x.ID, x.Guardian)
	}
}
