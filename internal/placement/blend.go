package placement

import (
	"cmp"
	"math"
	"math/big"
	"math/bits"
	"slices"
)

// blend is branch and bound over mixes: it ends where the flow, which splits
// parties and lets juniors go without the guardian, bounds too loosely. A company
// at a mix of groups is resolved by cases of where one of its units rides.
type blend struct {
	s       *search
	w       weights
	of      *mixing
	pool    []*mix
	trial   *mix              // scratch of weigh
	careful bool              // choose the cases by trying them
	note    func(Prices) Case // nil where no certificate is wanted
	riders  []Rider           // where one is
	lost    bool              // a case could not be closed
}

// diveNodes is how many nodes are spent on finding a good answer before the cases
// are chosen with care: some, and more where there are more riders to settle.
func (b *blend) diveNodes() int { return 60 + b.of.in.riders/4 }

// set searches a set of groups that the flow has been made to run: first down the
// likely cases for a good answer, then, with what it cuts off, all of them.
func (b *blend) set(f *flow, set uint32) Case {
	b.of, b.pool = newMixing(f, set, b.w), b.pool[:0]
	b.trial = newMix(b.of)
	may := f.scope()
	if !may.follow(f.in) {
		return Case{Split: Impossible}
	}
	b.depth(0).begin(may, b.penalty())
	if b.note == nil {
		lost, limit := b.s.lost, b.s.limit
		b.s.limit = min(limit, b.s.nodes+b.diveNodes())
		b.branch(0)
		stopped := b.s.nodes >= b.s.limit
		b.s.limit = limit
		if !stopped || b.s.stopped() {
			return Case{}
		}
		b.s.lost = lost
	}
	b.careful = true
	defer func() { b.careful = false }()
	return b.branch(0)
}

// penalty is more than leaving a few riders out costs, in parts.
func (b *blend) penalty() float64 { return penalised * float64(b.w.unplaced) * float64(b.of.per) }

func (b *blend) depth(d int) *mix {
	for len(b.pool) <= d {
		b.pool = append(b.pool, newMix(b.of))
	}
	return b.pool[d]
}

// parts is a cost in parts.
func (b *blend) parts(cost int64) *big.Int {
	return new(big.Int).Mul(big.NewInt(cost), big.NewInt(b.of.per))
}

// branch searches everything that the mix at a depth allows.
func (b *blend) branch(d int) Case {
	x := b.depth(d)
	s := b.s
	if s.enough() {
		return Case{}
	}
	if s.stopped() {
		b.lose(x)
		return Case{}
	}
	s.nodes++
	x.optimise(b.parts(s.cut))
	if x.lacks() && !x.above(b.parts(s.cut)) {
		if closed, ok := b.impossible(x); ok {
			return closed
		}
		x.penalty *= penalised
		x.optimise(b.parts(s.cut))
	}
	at, mixed := x.unmixed()
	unit := nobody
	mixed = slices.DeleteFunc(mixed, func(u int) bool { return bits.OnesCount32(x.may[u]) < 2 })
	if len(mixed) > 0 {
		unit = mixed[0]
	}
	if unit == nobody && b.note == nil {
		if cost, ok := b.cost(at); ok && cost <= s.cut {
			b.record(at, cost)
		}
	}
	if x.above(b.parts(s.cut)) {
		return b.closed(x)
	}
	if unit == nobody {
		if unit = x.broken(at); unit == nobody || bits.OnesCount32(x.may[unit]) < 2 {
			b.lose(x)
			return Case{}
		}
	}
	if b.careful && len(mixed) > 1 {
		unit = b.weigh(x, mixed)
	}
	return b.split(d, unit)
}

// tries is how many units are tried for the choice of the next cases.
const tries = 8

// weigh picks, of units at a mix, the one whose cases promise the least work: each
// open case counts the less, the more it raises the bound toward the cut.
func (b *blend) weigh(x *mix, mixed []int) int {
	cut := b.parts(b.s.cut)
	limit, base := rough(cut), x.rough()
	gap := max(limit-base, float64(b.of.per)/16)
	best, least := mixed[0], math.Inf(1)
	for _, u := range mixed[:min(tries, len(mixed))] {
		work := 0.0
		for _, g := range x.order(u) {
			if !b.try(x, u, g, cut) {
				continue
			}
			if v := b.trial.rough(); v <= limit {
				work += 1 / (1 + 3*(v-base)/gap)
			}
		}
		if work < least {
			best, least = u, work
		}
		if work == 0 {
			break
		}
	}
	return best
}

// try optimises the case of a unit in a group; false when it is closed at the
// prices of x.
func (b *blend) try(x *mix, u, g int, cut *big.Int) bool {
	b.trial.copyFrom(x)
	b.trial.may[u] = 1 << g
	if !b.trial.may.follow(b.of.in) || b.trial.above(cut) {
		return false
	}
	b.trial.optimise(cut)
	return true
}

// rough is the bound of a mix, not quite exact.
func (x *mix) rough() float64 { return rough(x.of.bound(x.may, x.prices)) }

func rough(v *big.Int) float64 {
	if v == nil {
		return math.Inf(1)
	}
	f, _ := new(big.Float).SetInt(v).Float64()
	return f
}

// lose notes the bound of what stays unsearched.
func (b *blend) lose(x *mix) {
	b.lost = true
	least := int64(math.MinInt64)
	if bound := x.of.bound(x.may, x.prices); bound == nil {
		return
	} else if bound.Sign() > 0 { // whole costs: round up
		per := big.NewInt(x.of.per)
		least = bound.Add(bound, per).Sub(bound, big.NewInt(1)).Quo(bound, per).Int64()
	}
	b.s.lost = min(b.s.lost, least)
}

func (b *blend) closed(x *mix) Case {
	if b.note == nil {
		return Case{}
	}
	return b.note(Prices{Per: x.of.per, Groups: slices.Clone(x.prices)})
}

// split puts a unit into each of its groups in turn, those that hold most of it
// first.
func (b *blend) split(d, unit int) Case {
	x, in := b.depth(d), b.of.in
	out := Case{Split: ByGroup}
	if b.note != nil {
		out.Rider, out.Cases = b.riders[in.units[unit][0]].ID, make([]Case, in.groups+1)
	}
	var ready *Case
	child := b.depth(d + 1)
	for _, g := range x.order(unit) {
		child.copyFrom(x)
		child.may[unit] = 1 << g
		if !child.may.follow(in) {
			continue
		}
		if !child.above(b.parts(b.s.cut)) {
			c := b.branch(d + 1)
			if b.note != nil {
				out.Cases[g] = c
			}
			continue
		}
		if b.note != nil {
			if ready == nil {
				c := b.closed(x)
				ready = &c
			}
			out.Cases[g] = *ready
		}
	}
	return out
}

// record keeps an answer.
func (b *blend) record(at []int, cost int64) {
	s := b.s
	for u, unit := range b.of.in.units {
		for _, r := range unit {
			s.best.group[r] = at[u]
		}
	}
	s.best.found, s.best.set, s.best.cost = true, s.set, cost
	s.cut = cost - 1
}

// cost is what units in these groups cost; false when a rule is broken.
func (b *blend) cost(at []int) (int64, bool) {
	in := b.of.in
	var sum int64
	size, backs := make([]int, in.groups+1), make([]int, in.groups+1)
	for u, unit := range in.units {
		for _, r := range unit {
			sum += in.cost[r*(in.groups+1)+at[u]]
			size[at[u]]++
			backs[at[u]] += int(in.onBack[r] >> at[u] & 1)
		}
	}
	for _, g := range b.of.groups {
		if q := in.quota[g]; size[g] < q.min || size[g] > q.max || backs[g] > q.back || !b.staffed(at, g) {
			return 0, false
		}
	}
	for _, l := range in.links {
		if at[l.junior] != in.groups && at[l.junior] != at[l.guardian] {
			return 0, false
		}
	}
	return sum, true
}

// staffed reports whether the riders of a group can fill its roles, two of them
// for both.
func (b *blend) staffed(at []int, g int) bool {
	leaders, markers, either := 0, 0, 0
	for u := range at {
		if at[u] != g {
			continue
		}
		for _, r := range b.of.placed[u] {
			may := b.of.allow[r] >> (kinds * g)
			l, m := int(may>>lead&1), int(may>>mark&1)
			leaders, markers, either = leaders+l, markers+m, either+(l|m)
		}
	}
	q := b.of.in.quota[g]
	need := count(q.lead) + count(q.mark)
	return leaders >= count(q.lead) && markers >= count(q.mark) && either >= need
}

// unmixed is where each unit is, and the units at a mix of groups: those of most
// riders in doubt first.
func (x *mix) unmixed() (at, mixed []int) {
	of := x.of
	at = make([]int, len(of.in.units))
	for c := range x.key {
		x.put(at, c, &x.key[c])
	}
	var doubts []float64
	for i := range x.basis {
		c := x.basis[i].company
		if c == nobody || x.first(c) != i {
			continue
		}
		for _, u := range append([]int{of.companies[c].root}, of.companies[c].kids...) {
			share, g := x.shares(c, u)
			at[u] = g
			if share > 1-1e-4 {
				continue
			}
			doubt := (1 - share) * float64(len(of.in.units[u]))
			k := 0
			for k < len(doubts) && doubts[k] >= doubt-1e-6 {
				k++
			}
			doubts, mixed = slices.Insert(doubts, k, doubt), slices.Insert(mixed, k, u)
		}
	}
	return at, mixed
}

// put notes where a way takes the units of a company.
func (x *mix) put(at []int, c int, w *way) {
	of := x.of
	at[of.companies[c].root] = w.group
	for i, k := range of.companies[c].kids {
		if at[k] = of.in.groups; w.rides>>i&1 == 1 {
			at[k] = w.group
		}
	}
}

// shares is how much of a unit is in the group that has most of it.
func (x *mix) shares(c, u int) (most float64, g int) {
	share := x.sharesOf(c, u)
	for i, s := range share {
		if s > most {
			most, g = s, i
		}
	}
	return most, g
}

// sharesOf is how much of a unit is in each group, and left out.
func (x *mix) sharesOf(c, u int) []float64 {
	of := x.of
	share := make([]float64, of.in.groups+1)
	where := func(w *way) int {
		if i := slices.Index(of.companies[c].kids, u); i >= 0 && w.rides>>i&1 == 0 {
			return of.in.groups
		}
		return w.group
	}
	left := 1.0
	for i := range x.basis {
		if x.basis[i].company == c {
			share[where(&x.basis[i].way)] += x.x[i]
			left -= x.x[i]
		}
	}
	share[where(&x.key[c])] += left
	return share
}

// broken is the unit of a junior who is not with the guardian, nobody if there is
// none.
func (x *mix) broken(at []int) int {
	for _, l := range x.of.in.links {
		if at[l.junior] != x.of.in.groups && at[l.junior] != at[l.guardian] {
			return l.junior
		}
	}
	return nobody
}

// order lists where a unit may be, most likely first.
func (x *mix) order(unit int) []int {
	of := x.of
	c := slices.IndexFunc(of.companies, func(c company) bool { return c.root == unit || slices.Contains(c.kids, unit) })
	share := x.sharesOf(c, unit)
	var list []int
	for g := range share {
		if x.may[unit]>>g&1 == 1 {
			list = append(list, g)
		}
	}
	slices.SortStableFunc(list, func(a, b int) int { return cmp.Compare(share[b], share[a]) })
	return list
}
