package placement

import (
	"math"
	"math/big"
)

// mixing is the placement problem for one set of running groups, for the linear
// program in which each company may be at a mix of its ways to ride. In a mix the
// rules of a company hold as they stand; what is loose is that it rides in one
// way. Costs and prices are in parts of a unit of cost, per to the unit.
type mixing struct {
	in        *instance
	per       int64
	most      int64    // no price is larger
	allow     []places // per rider, with the groups decided
	companies []company
	groups    []int // those that run
	rowOf     []int // per group: its first row; nobody where it does not run
	limit     []float64
	span      []float64 // how far a row may stay below its limit
	trueCost  []int64   // per unit and group, and left out
	unitCost  []int64   // the same, or nothing where everything is free
	free      bool      // only what must not be costs anything: is there a way at all?
	backs     []int16   // per unit and group
	placed    [][]int   // per unit: the riders who may fill a role somewhere
	start     []int     // per company: the group to begin in
}

// penalised is how many riders left out what must not be in the basis counts for.
const penalised = 8

// mostPrice is the largest price, in parts, that the riders of a company can pay
// without a sum of 64 bits wrapping.
func mostPrice(riders int) int64 { return math.MaxInt64 / 64 / int64(riders+1) }

// newMixing is the problem of a set, from the flow for it.
func newMixing(f *flow, set uint32, w weights) *mixing {
	in := f.in
	m := &mixing{in: in, allow: append([]places(nil), f.allow...), companies: in.companies(), rowOf: make([]int, in.groups)}
	m.most = mostPrice(in.largestCompany())
	m.per = min(60_000, m.most/(32*penalised*w.unplaced))
	if m.per -= m.per % 60; m.per == 0 { // best prices are in halves, thirds, quarters and fifths
		m.per = 1
	}
	for g, q := range in.quota {
		if m.rowOf[g] = nobody; set>>g&1 == 0 {
			continue
		}
		m.rowOf[g] = kinds * len(m.groups)
		m.groups = append(m.groups, g)
		most := min(q.max, in.riders)
		m.limit = append(m.limit, float64(most), float64(min(q.back, in.riders)), -float64(count(q.lead)), -float64(count(q.mark)))
		m.span = append(m.span, float64(most-q.min), math.Inf(1), math.Inf(1), math.Inf(1))
	}
	for i := range m.limit { // a little room, each row its own, so that the simplex does not stand still
		m.limit[i] += 1e-7 * float64(1+(i*7)%31)
	}
	w1 := in.groups + 1
	m.trueCost, m.backs, m.placed = make([]int64, len(in.units)*w1), make([]int16, len(in.units)*w1), make([][]int, len(in.units))
	roles := places(0)
	for g := range in.groups {
		roles |= place(g, lead) | place(g, mark)
	}
	for u, unit := range in.units {
		for _, r := range unit {
			for g := range w1 {
				m.trueCost[u*w1+g] += in.cost[r*w1+g] * m.per
			}
			for g := range in.groups {
				m.backs[u*w1+g] += int16(in.onBack[r] >> g & 1)
			}
			if m.allow[r]&roles != 0 {
				m.placed[u] = append(m.placed[u], r)
			}
		}
	}
	m.unitCost = m.trueCost
	for _, c := range m.companies {
		m.start = append(m.start, f.groupAt(in.units[c.root][0]))
	}
	return m
}

// unitValue is what a unit pays in a group that runs, at prices.
func (m *mixing) unitValue(u, g int, p *GroupPrices) int64 {
	at := u*(m.in.groups+1) + g
	sum := m.unitCost[at] + int64(len(m.in.units[u]))*p.Size + int64(m.backs[at])*p.Back
	for _, r := range m.placed[u] {
		_, pay := m.role(r, g, p)
		sum += pay
	}
	return sum
}

// role is the role that pays a rider best in a group, front for none.
func (m *mixing) role(r, g int, p *GroupPrices) (kind int, pay int64) {
	at := m.allow[r] >> (kinds * g)
	kind, pay = nobody, math.MaxInt64
	if at&(1<<front|1<<back) != 0 {
		kind, pay = front, 0
	}
	if at>>lead&1 == 1 && p.Lead < pay {
		kind, pay = lead, p.Lead
	}
	if at>>mark&1 == 1 && p.Mark < pay {
		kind, pay = mark, p.Mark
	}
	if kind == nobody {
		return front, 0
	}
	return kind, pay
}

// barred is the value of what is not allowed.
const barred = math.MaxInt64 / 2

// value is what a company pays in a group, or left out, at prices.
func (m *mixing) value(c *company, g int, o scope, p []GroupPrices) int64 {
	if o[c.root]>>g&1 == 0 {
		return barred
	}
	out, w := m.in.groups, m.in.groups+1
	if g == out {
		sum := m.unitCost[c.root*w+out]
		for _, k := range c.kids {
			if o[k]>>out&1 == 0 {
				return barred
			}
			sum += m.unitCost[k*w+out]
		}
		return sum
	}
	sum := m.unitValue(c.root, g, &p[g])
	for _, k := range c.kids {
		best := int64(barred)
		if o[k]>>out&1 == 1 {
			best = m.unitCost[k*w+out]
		}
		if o[k]>>g&1 == 1 {
			best = min(best, m.unitValue(k, g, &p[g]))
		}
		if best == barred {
			return barred
		}
		sum += best
	}
	return sum
}

// best is the cheapest group of a company at prices, nobody where none is allowed.
func (m *mixing) best(c *company, o scope, p []GroupPrices) (g int, value int64) {
	g, value = nobody, barred
	if v := m.value(c, m.in.groups, o, p); v < value {
		g, value = m.in.groups, v
	}
	for _, at := range m.groups {
		if v := m.value(c, at, o, p); v < value {
			g, value = at, v
		}
	}
	return g, value
}

// bound is the least that anything allowed can cost at prices; nil where a company
// has no way to ride.
func (m *mixing) bound(o scope, p []GroupPrices) *big.Int {
	sum := newTotal()
	for i := range m.companies {
		_, v := m.best(&m.companies[i], o, p)
		if v == barred {
			return nil
		}
		sum.add(v, 1)
	}
	for _, g := range m.groups {
		q := m.in.quota[g]
		sum.add(-p[g].Size, pick(p[g].Size > 0, min(q.max, m.in.riders), q.min))
		sum.add(-p[g].Back, min(q.back, m.in.riders))
		sum.add(-p[g].Lead, count(q.lead))
		sum.add(-p[g].Mark, count(q.mark))
	}
	return sum.value()
}

func pick(yes bool, a, b int) int {
	if yes {
		return a
	}
	return b
}
