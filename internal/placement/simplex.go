package placement

import (
	"math"
	"math/big"
)

const (
	nearZero = 1e-9 // of a value or a pivot
	renewAt  = 60   // turns after which the inverse is worked out anew
)

// optimise turns the basis until no way and no slack is cheaper at its prices, or
// until the bound exceeds the cut, in parts. It stops after so many turns in any
// case: the prices bound the cost all the same.
func (x *mix) optimise(cut *big.Int) {
	of := x.of
	for c := range x.key {
		x.key[c].bad = !of.legal(&of.companies[c], &x.key[c], x.may)
	}
	for i := range x.basis {
		if b := &x.basis[i]; b.company != nobody {
			b.way.bad = !of.legal(&of.companies[b.company], &b.way, x.may)
		}
	}
	var waiting []int // companies with a cheaper way when last looked at
	for range 200 + 5*(len(x.basis)+len(x.key)) {
		if x.turns >= renewAt && !x.renew() {
			return
		}
		x.price()
		if row := x.cheapSlack(); row != nobody {
			x.enterSlack(row)
			continue
		}
		all := waiting == nil
		c, g, left := x.cheapest(waiting)
		if c == nobody && !all {
			all = true
			c, g, left = x.cheapest(nil)
		}
		if c == nobody || all && cut != nil && x.above(cut) {
			return
		}
		waiting = left
		x.enterWay(c, of.way(&of.companies[c], g, x.may, x.prices))
	}
}

// above reports whether the bound at the present prices exceeds a cut.
func (x *mix) above(cut *big.Int) bool {
	bound := x.of.bound(x.may, x.prices)
	return bound == nil || bound.Cmp(cut) > 0
}

// cost is what a way counts in the basis.
func (x *mix) cost(w *way) float64 {
	cost := float64(w.cost)
	if x.of.free {
		cost = 0
	}
	if w.bad {
		cost += x.penalty
	}
	return cost
}

// price works out the prices of the basis.
func (x *mix) price() {
	n := len(x.basis)
	clear(x.pi)
	for i := range x.basis {
		b, cost := &x.basis[i], 0.0
		switch {
		case b.lacks:
			cost = x.penalty
		case b.company != nobody:
			cost = x.cost(&b.way) - x.cost(&x.key[b.company])
		}
		if cost != 0 {
			addRow(x.pi, x.inv[i*n:i*n+n], cost)
		}
	}
	for _, g := range x.of.groups {
		v := x.pi[x.of.rowOf[g]:]
		whole := x.of.keepWithin
		x.prices[g] = GroupPrices{Size: whole(-v[front]), Back: whole(max(0, -v[back])), Lead: whole(min(0, v[lead])), Mark: whole(min(0, v[mark]))}
	}
}

// tolerance is the gain, in parts, below which nothing is turned: what rounding may
// feign.
func (x *mix) tolerance() int64 {
	if x.of.free {
		return 4
	}
	most := 0.0
	for _, v := range x.pi {
		most = max(most, math.Abs(v))
	}
	return max(4, x.of.per/1024, int64(most*1e-14))
}

// cheapSlack is the row whose slack gains most, nobody if none does.
func (x *mix) cheapSlack() int {
	best, at := float64(x.tolerance()), nobody
	for i, pi := range x.pi {
		gain := pi
		if x.upper[i] {
			gain = -pi
		}
		if gain > best && !x.inBasis(i) {
			best, at = gain, i
		}
	}
	return at
}

// inBasis reports whether the slack of a row is in the basis.
func (x *mix) inBasis(row int) bool {
	for i := range x.basis {
		if b := &x.basis[i]; b.company == nobody && b.row == row && !b.lacks {
			return true
		}
	}
	return false
}

// cheapest finds, among some companies or all, the one with the way that gains
// most; left are those that gain at all.
func (x *mix) cheapest(among []int) (c, g int, left []int) {
	c, g = nobody, nobody
	most := x.tolerance()
	look := func(i int) {
		at, v := x.of.best(&x.of.companies[i], x.may, x.prices)
		if at == nobody {
			return
		}
		now := x.of.reduced(&x.key[i], x.prices)
		if x.key[i].bad {
			now += int64(x.penalty)
		}
		if gain := now - v; gain > x.tolerance() {
			left = append(left, i)
			if gain > most {
				c, g, most = i, at, gain
			}
		}
	}
	if among == nil {
		for i := range x.key {
			look(i)
		}
		return c, g, left
	}
	for _, i := range among {
		look(i)
	}
	return c, g, left
}

// enterSlack brings the slack of a row into the basis, from the end where it is.
func (x *mix) enterSlack(row int) {
	n := len(x.basis)
	sign := 1.0
	if x.upper[row] {
		sign = -1
	}
	for i := range n {
		x.y[i] = sign * x.inv[i*n+row]
	}
	x.turn(entering{company: nobody, row: row, from: sign}, x.of.span[row])
}

// enterWay brings a way of a company into the basis.
func (x *mix) enterWay(c int, w way) {
	x.toward(c, &w)
	x.turn(entering{company: c, way: w}, math.Inf(1))
}

// toward works out how the basis gives way to a way of a company.
func (x *mix) toward(c int, w *way) {
	n := len(x.basis)
	clear(x.y)
	add := func(w *way, sign float64) {
		if w.group == x.of.in.groups {
			return
		}
		for k, use := range w.use {
			if use != 0 {
				row := x.of.rowOf[w.group] + k
				for i := range n {
					x.y[i] += float64(sign * float64(use) * x.inv[i*n+row])
				}
			}
		}
	}
	add(w, 1)
	add(&x.key[c], -1)
}
