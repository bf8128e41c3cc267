// Package proof checks that a placement is the best there is, from the
// certificate that comes with it. It takes from package placement the problem,
// the result and the certificate as data, and the check of the hard rules, which
// is no part of the search; costs, cases and bounds it works out for itself, in
// whole numbers.
package proof

import (
	"fmt"
	"math"
	"math/big"
	"slices"
	"strings"

	"gritward/internal/placement"
)

// Check reports what is wrong with a result or its certificate; nil when
//
//   - the result keeps every hard rule and its objective is as it says,
//   - the scale keeps the strict order of objectives,
//   - no placement is better than the bound of the result: the cases of the
//     certificate cover all placements, and none in any of them costs less than
//     the claim,
//   - the bound is met, if the result says that it is proven.
//
// For a result that says that it is Infeasible, the cases must show that there is
// no placement at all.
//
// The problem must be one that placement.Solve accepts.
func Check(p placement.Problem, r placement.Result, c placement.Certificate) error {
	k, err := newChecker(p, c)
	if err != nil {
		return err
	}
	if r.Infeasible {
		if k.none = true; !r.Proven || len(r.Seats()) > 0 {
			return fmt.Errorf("proof: the result says that nothing can be, but places somebody or is not proven")
		}
		return k.walk(c.Root, newState(k), "")
	}
	if faults := placement.Check(p, r); len(faults) > 0 {
		return fmt.Errorf("proof: the result breaks a rule: %s", strings.Join(faults, "; "))
	}
	if got := k.objective(r); got != r.Objective {
		return fmt.Errorf("proof: the result's objective is %+v, not %+v as it says", got, r.Objective)
	}
	if r.Proven && r.Bound != r.Objective {
		return fmt.Errorf("proof: the result says it is proven, but its bound is %+v and its objective %+v", r.Bound, r.Objective)
	}
	if cost := k.boundCost(r.Bound); cost.Cmp(big.NewInt(c.Claim)) > 0 {
		return fmt.Errorf("proof: the bound %+v costs %s, above the claim %d", r.Bound, cost, c.Claim)
	}
	return k.walk(c.Root, newState(k), "")
}

// checker is a problem by index, riders and groups in ID order.
type checker struct {
	p      placement.Problem
	riders []placement.Rider
	groups []placement.Group
	rider  map[string]int
	group  map[string]int
	cert   placement.Certificate
	cost   [][]int64 // per rider: in each group, and left out
	most   int64     // no price is larger
	guard  [][2]int  // junior, guardian
	none   bool      // there must be no placement

	sums    []int64 // scratch: per unit and place, what its riders pay
	blocked []uint32
}

func newChecker(p placement.Problem, c placement.Certificate) (*checker, error) {
	if len(p.Riders) > placement.MaxRiders || len(p.Groups) > placement.MaxGroups {
		return nil, fmt.Errorf("proof: %d riders and %d groups, at most %d and %d", len(p.Riders), len(p.Groups), placement.MaxRiders, placement.MaxGroups)
	}
	k := &checker{p: p, cert: c, riders: slices.Clone(p.Riders), groups: slices.Clone(p.Groups), rider: map[string]int{}, group: map[string]int{}}
	slices.SortFunc(k.riders, func(a, b placement.Rider) int { return strings.Compare(a.ID, b.ID) })
	slices.SortFunc(k.groups, func(a, b placement.Group) int { return strings.Compare(a.ID, b.ID) })
	for i, r := range k.riders {
		k.rider[r.ID] = i
	}
	for i, g := range k.groups {
		k.group[g.ID] = i
	}
	for i, r := range k.riders {
		if g, ok := k.rider[r.Guardian]; ok && r.Junior {
			k.guard = append(k.guard, [2]int{i, g})
		}
	}
	if err := k.scale(); err != nil {
		return nil, err
	}
	k.costs()
	k.most = math.MaxInt64 / 64 / int64(k.largest()+1)
	k.sums = make([]int64, len(k.riders)*(len(k.groups)+1))
	k.blocked = make([]uint32, len(k.riders))
	return k, k.prices()
}

// scale checks that each weight exceeds all that is less important: a rider
// placed outweighs the most discomfort, and so on down to the moves.
func (k *checker) scale() error {
	s, n := k.cert.Scale, int64(len(k.riders))
	worst := int64(0)
	for _, r := range k.riders {
		most := 0
		for _, g := range k.groups {
			most = max(most, points(r, g))
		}
		worst += int64(most)
	}
	// total(a, b, c) is what discomfort, preferences and moves can come to
	total := func(discomfort, preferences, moves int64) *big.Int {
		t := new(big.Int).Mul(big.NewInt(s.Discomfort), big.NewInt(discomfort))
		t.Add(t, new(big.Int).Mul(big.NewInt(s.Preference), big.NewInt(preferences)))
		return t.Add(t, big.NewInt(moves))
	}
	switch {
	case big.NewInt(s.Preference).Cmp(total(0, 0, n)) <= 0,
		big.NewInt(s.Discomfort).Cmp(total(0, n, n)) <= 0,
		big.NewInt(s.Unplaced).Cmp(total(worst, n, n)) <= 0:
		return fmt.Errorf("proof: the scale %+v does not keep the order of objectives", s)
	case s.Unplaced > math.MaxInt64/16/(n+1):
		return fmt.Errorf("proof: the scale %+v is too large to add up exactly", s)
	}
	return nil
}

// largest is how many riders at most go together: those of one party, with all
// juniors and guardians of theirs.
func (k *checker) largest() int {
	of, size := make([]int, len(k.riders)), map[int]int{}
	for i := range of {
		of[i] = i
	}
	join := func(a, b int) {
		for i, u := range of {
			if u == b {
				of[i] = a
			}
		}
	}
	party := map[string]int{}
	for i, r := range k.riders {
		if first, ok := party[r.Party]; ok && r.Party != "" {
			join(of[first], of[i])
		}
		party[r.Party] = i
	}
	for _, pair := range k.guard {
		join(of[pair[0]], of[pair[1]])
	}
	most := 0
	for _, u := range of {
		size[u]++
		most = max(most, size[u])
	}
	return most
}

// points is the discomfort of a rider in a group: 3 for each 0.1 km/h of its
// pace above the rider's band, 1 for each below.
func points(r placement.Rider, g placement.Group) int {
	pace, lo, hi := math.Round(g.PaceKmh*10), math.Round(r.PaceMinKmh*10), math.Round(r.PaceMaxKmh*10)
	return int(3*max(0, pace-hi) + max(0, lo-pace))
}

// costs works out the cost of each rider in each group and left out.
func (k *checker) costs() {
	s := k.cert.Scale
	for _, r := range k.riders {
		row := make([]int64, len(k.groups)+1)
		for g := range row {
			id := ""
			if g < len(k.groups) {
				id = k.groups[g].ID
				row[g] = s.Discomfort * int64(points(r, k.groups[g]))
			} else {
				row[g] = s.Unplaced
			}
			if r.Preferred != "" && r.Preferred != id {
				row[g] += s.Preference
			}
			if r.Previous != "" && r.Previous != id {
				row[g]++
			}
		}
		k.cost = append(k.cost, row)
	}
}

// prices refuses prices that are malformed or too large to add up exactly.
func (k *checker) prices() error {
	for i, p := range k.cert.Prices {
		if len(p.Groups) != len(k.groups) {
			return fmt.Errorf("proof: prices %d are for %d groups of %d", i, len(p.Groups), len(k.groups))
		}
		if p.Per < 1 || p.Per > max(1, k.most/k.cert.Scale.Unplaced) {
			return fmt.Errorf("proof: prices %d: %d parts to a unit of cost, less than one or too many to add up exactly", i, p.Per)
		}
		for _, g := range p.Groups {
			if g.Back < 0 {
				return fmt.Errorf("proof: prices %d: a back place costs %d, less than nothing", i, g.Back)
			}
			for _, x := range []int64{g.Size, g.Back, g.Lead, g.Mark} {
				if x > k.most || x < -k.most {
					return fmt.Errorf("proof: prices %d: %d is too large to add up exactly", i, x)
				}
			}
		}
	}
	return nil
}

// objective measures a result by its seats.
func (k *checker) objective(r placement.Result) placement.Objective {
	at := make([]int, len(k.riders))
	for i := range at {
		at[i] = len(k.groups)
	}
	for _, g := range r.Groups {
		for _, id := range g.Riders {
			at[k.rider[id]] = k.group[g.ID]
		}
	}
	var o placement.Objective
	for i, r := range k.riders {
		id := ""
		if g := at[i]; g < len(k.groups) {
			id = k.groups[g].ID
			o.Placed++
			o.Discomfort += points(r, k.groups[g])
			if r.Preferred == id {
				o.PreferencesMet++
			}
		}
		if r.Previous != "" && r.Previous != id {
			o.Moves++
		}
	}
	return o
}

// boundCost is the cost of an objective.
func (k *checker) boundCost(o placement.Objective) *big.Int {
	s, wishes := k.cert.Scale, 0
	for _, r := range k.riders {
		if r.Preferred != "" {
			wishes++
		}
	}
	sum := big.NewInt(int64(o.Moves))
	for _, part := range [][2]int64{
		{s.Unplaced, int64(len(k.riders) - o.Placed)}, {s.Discomfort, int64(o.Discomfort)}, {s.Preference, int64(wishes - o.PreferencesMet)},
	} {
		sum.Add(sum, new(big.Int).Mul(big.NewInt(part[0]), big.NewInt(part[1])))
	}
	return sum
}
