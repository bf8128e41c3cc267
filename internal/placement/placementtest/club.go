// Package placementtest draws placement problems for tests.
package placementtest

import (
	"fmt"
	"math/rand/v2"

	"gritward/internal/placement"
)

// Club draws a ride like a large club's: pace bands spread over the groups, a
// tenth qualified to lead, some at the back or held, parties and juniors, a
// fixed seed.
func Club(riders, groups int, seed uint64) placement.Problem {
	return drawn(riders, groups, seed, 12, false)
}

// Social draws a club in which one rider in three comes with another.
func Social(riders, groups int, seed uint64) placement.Problem {
	return drawn(riders, groups, seed, 3, true)
}

// drawn draws a club in which one rider in some comes with the one before.
func drawn(riders, groups int, seed uint64, some int, chains bool) placement.Problem {
	rng := rand.New(rand.NewPCG(seed, 1))
	p := placement.Problem{NeedLeader: true, NeedBackMarker: true}
	size := riders/groups + riders/groups/5 + 1
	for g := range groups {
		p.Groups = append(p.Groups, placement.Group{
			ID: fmt.Sprintf("g%02d", g), PaceKmh: 22 + 12*float64(g)/float64(groups),
			MinSize: size / 3, MaxSize: size, BackPlaces: size / 5,
		})
	}
	oneIn := func(one int) string {
		if rng.IntN(one) > 0 {
			return ""
		}
		return p.Groups[rng.IntN(groups)].ID
	}
	for r := range riders {
		lo := 21 + 11*rng.Float64()
		x := placement.Rider{
			ID: fmt.Sprintf("r%04d", r), PaceMinKmh: lo, PaceMaxKmh: lo + 1 + 3*rng.Float64(),
			Preferred: oneIn(3), Previous: oneIn(2), Pinned: oneIn(60),
			MayLead: rng.IntN(8) == 0, MayMarkBack: rng.IntN(6) == 0,
			Standings: map[string]placement.Standing{}, Experience: rng.IntN(100),
		}
		kind := rng.IntN(20)
		for g, group := range p.Groups {
			s := placement.Clear
			switch {
			case kind < 2:
				s = placement.Back
			case kind == 2 && g < groups/2: // lights too short for the slower groups
				s = placement.Held
			case kind < 6:
				s = placement.Advised
			}
			x.Standings[group.ID] = s
		}
		if r > 0 && rng.IntN(some) == 0 { // rides with the one before
			before := &p.Riders[r-1]
			x.PaceMinKmh, x.PaceMaxKmh, x.Pinned = before.PaceMinKmh, before.PaceMaxKmh+1, before.Pinned
			switch {
			case before.Junior:
			case rng.IntN(3) == 0:
				x.Junior, x.Guardian = true, before.ID
			case chains && before.Party != "":
				x.Party = before.Party
			default:
				before.Party = "party of " + before.ID
				x.Party = before.Party
			}
		}
		p.Riders = append(p.Riders, x)
	}
	return p
}

// Short takes some of the places of each group away, so that not everybody has
// one: to three in ten of ten.
func Short(p placement.Problem, inTen int) placement.Problem {
	for g := range p.Groups {
		p.Groups[g].MaxSize = p.Groups[g].MaxSize * inTen / 10
	}
	return p
}
