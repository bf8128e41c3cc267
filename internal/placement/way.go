package placement

// way is one way for a company to ride: in a group, with some of its kids, in some
// roles.
type way struct {
	group int
	rides uint32       // the kids who do
	bad   bool         // not allowed any more
	cost  int64        // in parts
	use   [kinds]int16 // of the rows of the group
}

// way is the cheapest way for a company to ride in a group at prices.
func (m *mixing) way(c *company, g int, o scope, p []GroupPrices) way {
	out, w := m.in.groups, m.in.groups+1
	x := way{group: g, cost: m.trueCost[c.root*w+g]}
	if g != out {
		m.take(&x, c.root, p)
	}
	for i, k := range c.kids {
		if g != out && o[k]>>g&1 == 1 && (o[k]>>out&1 == 0 || m.unitValue(k, g, &p[g]) < m.unitCost[k*w+out]) {
			x.rides |= 1 << i
			x.cost += m.trueCost[k*w+g]
			m.take(&x, k, p)
		} else {
			x.cost += m.trueCost[k*w+out]
		}
	}
	return x
}

// take notes what a unit uses of a group. The rows of roles count downwards.
func (m *mixing) take(x *way, u int, p []GroupPrices) {
	g := x.group
	x.use[front] += int16(len(m.in.units[u]))
	x.use[back] += m.backs[u*(m.in.groups+1)+g]
	for _, r := range m.placed[u] {
		if kind, _ := m.role(r, g, &p[g]); kind != front {
			x.use[kind]--
		}
	}
}

// legal reports whether a way is still allowed.
func (m *mixing) legal(c *company, x *way, o scope) bool {
	if o[c.root]>>x.group&1 == 0 {
		return false
	}
	for i, k := range c.kids {
		at := m.in.groups
		if x.rides>>i&1 == 1 {
			at = x.group
		}
		if o[k]>>at&1 == 0 {
			return false
		}
	}
	return true
}

// reduced is what a way pays at prices.
func (m *mixing) reduced(x *way, p []GroupPrices) int64 {
	cost := x.cost
	if m.free {
		cost = 0
	}
	if x.group == m.in.groups {
		return cost
	}
	g := &p[x.group]
	return cost + int64(x.use[front])*g.Size + int64(x.use[back])*g.Back - int64(x.use[lead])*g.Lead - int64(x.use[mark])*g.Mark
}
