package proof

import (
	"fmt"
	"math"
	"math/big"
	"math/bits"

	"gritward/internal/placement"
)

// walk checks a case and all cases within it. The path says where it is.
func (k *checker) walk(c placement.Case, s *state, path string) error {
	switch c.Split {
	case placement.Impossible, placement.ByPrices, placement.ByRay:
		if err := k.closed(c, s); err != nil {
			return fmt.Errorf("proof: case %q: %w", path, err)
		}
		return nil
	}
	within, err := k.within(c, s)
	if err != nil {
		return fmt.Errorf("proof: case %q: %w", path, err)
	}
	if len(within) != len(c.Cases) {
		return fmt.Errorf("proof: case %q: %d cases of %d", path, len(c.Cases), len(within))
	}
	for i, sub := range within {
		if sub.follow(); sub.empty {
			continue
		}
		if err := k.walk(c.Cases[i], sub, fmt.Sprintf("%s/%d", path, i)); err != nil {
			return err
		}
	}
	return nil
}

// within lists all cases of a split.
func (k *checker) within(c placement.Case, s *state) ([]*state, error) {
	switch c.Split {
	case placement.ByRunning, placement.ByLeader, placement.ByBackMarker:
		g, ok := k.group[c.Group]
		if !ok {
			return nil, fmt.Errorf("no group %q", c.Group)
		}
		if c.Split == placement.ByRunning {
			return s.either(func(sub *state) *decision { return &sub.runs[g] }), nil
		}
		role := leader
		if c.Split == placement.ByBackMarker {
			role = marker
		}
		if s.runs[g] != yes || !k.needs(role, g) {
			return nil, fmt.Errorf("group %s need not have that role", c.Group)
		}
		return s.either(func(sub *state) *decision { return &sub.byBack[role][g] }), nil
	case placement.ByGroup, placement.ByJunior:
		i, ok := k.rider[c.Rider]
		if !ok {
			return nil, fmt.Errorf("no rider %q", c.Rider)
		}
		if c.Split == placement.ByGroup {
			return s.byGroup(i), nil
		}
		guardian, ok := k.rider[k.riders[i].Guardian]
		if !ok || !k.riders[i].Junior {
			return nil, fmt.Errorf("%s is no junior with a guardian", c.Rider)
		}
		return s.byJunior(i, guardian), nil
	}
	return nil, fmt.Errorf("no such split: %d", c.Split)
}

// either are the cases in which something is so, and is not.
func (s *state) either(what func(*state) *decision) []*state {
	var within []*state
	for _, d := range []decision{yes, no} {
		sub := s.clone()
		now := what(sub)
		sub.empty = sub.empty || *now != open && *now != d
		*now = d
		within = append(within, sub)
	}
	return within
}

// byGroup are the cases of a rider in each group and left out.
func (s *state) byGroup(i int) []*state {
	var within []*state
	for g := range len(s.k.groups) + 1 {
		sub := s.clone()
		sub.keep(i, 1<<g)
		within = append(within, sub)
	}
	return within
}

// byJunior are the cases of a junior with the guardian and left out.
func (s *state) byJunior(junior, guardian int) []*state {
	rides, stays := s.clone(), s.clone()
	rides.keep(junior, ^s.out())
	rides.join(junior, guardian)
	stays.keep(junior, s.out())
	return []*state{rides, stays}
}

// closed checks that no placement of a case costs less than the claim.
func (k *checker) closed(c placement.Case, s *state) error {
	prices := placement.Prices{Per: 1}
	switch {
	case c.Split == placement.Impossible:
		prices.Groups = make([]placement.GroupPrices, len(k.groups))
	case c.Prices < 0 || c.Prices >= len(k.cert.Prices):
		return fmt.Errorf("no prices %d", c.Prices)
	default:
		prices = k.cert.Prices[c.Prices]
	}
	// costs are whole, so more than one below the claim is as much as the claim
	costs, least := prices.Per, new(big.Int).Sub(big.NewInt(k.cert.Claim), big.NewInt(1))
	least.Mul(least, big.NewInt(costs)).Add(least, big.NewInt(1))
	if c.Split == placement.ByRay {
		costs, least = 0, big.NewInt(1)
	}
	bound := s.bound(prices.Groups, costs)
	switch {
	case bound == nil:
		return nil
	case k.none && c.Split == placement.ByPrices:
		return fmt.Errorf("prices do not show that there is no placement")
	case c.Split == placement.Impossible:
		return fmt.Errorf("nothing shows that it is impossible")
	case bound.Cmp(least) < 0:
		return fmt.Errorf("at its prices something may cost %s, below %s", bound, least)
	}
	return nil
}

// bound is the least that any placement of the case can cost at the prices, with
// all costs taken so many times; nil when the case has no placement.
func (s *state) bound(prices []placement.GroupPrices, costs int64) *big.Int {
	k, w := s.k, len(s.k.groups)+1
	clear(k.sums)
	clear(k.blocked)
	for i, u := range s.unit {
		row := k.sums[u*w : u*w+w]
		for set := s.allowed[u]; set != 0; set &= set - 1 {
			g := bits.TrailingZeros32(set)
			row[g] += costs * k.cost[i][g]
			if g == w-1 {
				continue
			}
			pay, ok := s.pays(i, g, prices[g])
			if !ok {
				k.blocked[u] |= 1 << g
			}
			row[g] += pay
		}
	}
	along, alone := s.along()
	sum := big.NewInt(0)
	for i, u := range s.unit {
		if i != u || !alone[u] {
			continue
		}
		best := int64(nothing)
		for g := range w {
			pay := s.pay(u, g)
			for _, j := range along[u] {
				if pay != nothing {
					pay = add(pay, min(s.pay(j, g), s.pay(j, w-1)))
				}
			}
			best = min(best, pay)
		}
		if best == nothing {
			return nil
		}
		sum.Add(sum, big.NewInt(best))
	}
	for g := range k.groups {
		if !s.giveBack(sum, g, prices[g]) {
			return nil
		}
	}
	return sum
}

// nothing is what a unit pays where it cannot be.
const nothing = math.MaxInt64

func add(a, b int64) int64 {
	if b == nothing {
		return nothing
	}
	return a + b
}

// pay is what a unit pays in a group, or left out.
func (s *state) pay(u, g int) int64 {
	if (s.allowed[u]&^s.k.blocked[u])>>g&1 == 0 {
		return nothing
	}
	return s.k.sums[u*(len(s.k.groups)+1)+g]
}

// along lists, per unit, the units of juniors whose guardians are all in it, who are
// either in its group or left out; alone are the units that are in no such list. A
// unit with juniors of its own that have to look to another is alone.
func (s *state) along() (along [][]int, alone []bool) {
	const none, several = -1, -2
	guardian := make([]int, len(s.unit))
	for u := range guardian {
		guardian[u] = none
	}
	for _, pair := range s.k.guard {
		junior, with := s.unit[pair[0]], s.unit[pair[1]]
		switch {
		case junior == with:
		case guardian[junior] == none || guardian[junior] == with:
			guardian[junior] = with
		default:
			guardian[junior] = several
		}
	}
	along, alone = make([][]int, len(s.unit)), make([]bool, len(s.unit))
	for i, u := range s.unit {
		if i != u {
			continue
		}
		if with := guardian[u]; with >= 0 && guardian[with] == none {
			along[with] = append(along[with], u)
		} else {
			alone[u] = true
		}
	}
	return along, alone
}

// pays is the least a rider pays in a group at its prices: for riding there, and
// for the role that pays best, if any; false when the rider cannot ride there.
func (s *state) pays(i, g int, p placement.GroupPrices) (int64, bool) {
	pay := p.Size
	if s.k.isBack(i, g) {
		pay += p.Back
	}
	best, ok, bound := int64(0), true, false
	for role, price := range []int64{leader: p.Lead, marker: p.Mark} {
		if s.k.mustFill(role, i, g) && !bound { // nothing else will do
			best, ok, bound = 0, false, true
			if s.mayFill(role, i, g) {
				best, ok = price, true
			}
		} else if !bound && s.mayFill(role, i, g) {
			best = min(best, price)
		}
	}
	return pay + best, ok
}

// giveBack takes from a sum the prices of a group times the most, or for a price
// below 0 the least, that it may have taken up; false when it cannot run and must.
func (s *state) giveBack(sum *big.Int, g int, p placement.GroupPrices) bool {
	if s.runs[g] == no {
		return true
	}
	group := s.k.groups[g]
	least, most := 0, min(group.MaxSize, len(s.k.riders))
	if s.runs[g] == yes {
		least = max(1, group.MinSize)
	}
	take := func(price int64, least, most int) {
		n := most
		if price < 0 {
			n = least
		}
		sum.Sub(sum, new(big.Int).Mul(big.NewInt(price), big.NewInt(int64(n))))
	}
	take(p.Size, least, most)
	take(p.Back, 0, min(group.BackPlaces, len(s.k.riders)))
	backs := 0
	for role, price := range []int64{leader: p.Lead, marker: p.Mark} {
		if s.k.needs(role, g) {
			take(price, min(least, 1), 1)
		}
		if s.byBack[role][g] == yes {
			backs++
		}
	}
	return backs <= group.BackPlaces
}
