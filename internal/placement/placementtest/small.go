package placementtest

import (
	"fmt"

	"pgregory.net/rapid"

	"gritward/internal/placement"
)

// Small draws a problem that brute force can solve, with every kind of rule.
func Small(t *rapid.T) placement.Problem {
	n := rapid.IntRange(0, 8).Draw(t, "riders")
	k := rapid.IntRange(1, 3).Draw(t, "groups")
	p := placement.Problem{
		NeedLeader:     rapid.Bool().Draw(t, "need_leader"),
		NeedBackMarker: rapid.Bool().Draw(t, "need_back_marker"),
	}
	for g := range k {
		max := rapid.IntRange(0, 6).Draw(t, "max")
		p.Groups = append(p.Groups, placement.Group{
			ID:         fmt.Sprintf("g%d", g),
			PaceKmh:    24 + 0.5*float64(rapid.IntRange(0, 6).Draw(t, "pace")),
			MinSize:    rapid.IntRange(0, min(max, 4)).Draw(t, "min"),
			MaxSize:    max,
			BackPlaces: rapid.IntRange(0, 2).Draw(t, "back_places"),
		})
	}
	standings := []placement.Standing{placement.Clear, placement.Clear, placement.Advised, placement.Back, placement.Back, placement.Held}
	for r := range n {
		lo := 23 + 0.5*float64(rapid.IntRange(0, 6).Draw(t, "lo"))
		x := placement.Rider{
			ID: fmt.Sprintf("r%d", r), PaceMinKmh: lo, PaceMaxKmh: lo + float64(rapid.IntRange(0, 4).Draw(t, "band")),
			MayLead: rapid.IntRange(0, 1).Draw(t, "lead") == 1, MayMarkBack: rapid.IntRange(0, 1).Draw(t, "mark") == 1,
			Party:      rapid.SampledFrom([]string{"", "", "", "a", "b"}).Draw(t, "party"),
			Standings:  map[string]placement.Standing{},
			Experience: rapid.IntRange(0, 3).Draw(t, "experience"),
		}
		for _, g := range p.Groups {
			x.Standings[g.ID] = rapid.SampledFrom(standings).Draw(t, "standing")
		}
		x.Preferred, x.Previous, x.Pinned = anyGroup(t, k, 2, "preferred"), anyGroup(t, k, 2, "previous"), anyGroup(t, k, 8, "pinned")
		if r > 0 && rapid.IntRange(0, 4).Draw(t, "junior") == 0 {
			if a := rapid.IntRange(0, r-1).Draw(t, "guardian"); !p.Riders[a].Junior {
				x.Junior, x.Guardian = true, p.Riders[a].ID
			}
		}
		p.Riders = append(p.Riders, x)
	}
	for i := range p.Riders {
		p.Riders[i].MustRide = rapid.IntRange(0, 19).Draw(t, "must_ride") == 0
	}
	for g := range p.Groups {
		p.Groups[g].MustRun = rapid.IntRange(0, 9).Draw(t, "must_run") == 0
		p.Groups[g].LeaderWaived = rapid.IntRange(0, 4).Draw(t, "leader_waived") == 0
		p.Groups[g].BackMarkerWaived = rapid.IntRange(0, 4).Draw(t, "back_marker_waived") == 0
	}
	if n >= 2 && rapid.IntRange(0, 4).Draw(t, "name") == 0 {
		p.Groups[0].Leader, p.Groups[k-1].BackMarker = "r0", "r1"
	}
	return p
}

// anyGroup draws a group, or none, one in some.
func anyGroup(t *rapid.T, groups, some int, label string) string {
	if rapid.IntRange(0, some-1).Draw(t, label+"?") > 0 {
		return ""
	}
	return fmt.Sprintf("g%d", rapid.IntRange(0, groups-1).Draw(t, label))
}

// Drawn is the small problem of a seed.
func Drawn(seed int) placement.Problem { return rapid.Custom(Small).Example(seed) }
