package placement

import "math"

// entering is what comes into the basis: a way of a company, or the slack of a row
// from one of its ends.
type entering struct {
	company int
	way     way
	row     int
	from    float64 // 1: from 0 upwards; -1: from the upper end downwards
}

// turn brings something into the basis, at most so much of it, and what gives out
// first out of it: a column, or the key of a company.
func (x *mix) turn(e entering, most float64) {
	step, at, key := x.ratio(e, most)
	if math.IsInf(step, 1) {
		x.turns = renewAt // cannot be but for rounding: the costs are bounded
		return
	}
	n := len(x.basis)
	if key != nobody {
		spare := x.spare(key)
		if spare == nobody { // the way becomes the key itself
			for i := range n {
				x.x[i] -= float64(step * x.y[i])
			}
			x.key[key] = e.way
			x.turns++
			return
		}
		x.swapKey(key, spare)
		if at = spare; e.company != nobody {
			x.toward(e.company, &e.way)
		} else {
			x.again(e)
		}
	}
	for i := range n {
		x.x[i] -= float64(step * x.y[i])
	}
	x.turns++
	if at == nobody { // from one end to the other
		x.upper[e.row] = e.from > 0
		return
	}
	if out := &x.basis[at]; out.company == nobody && !out.lacks {
		x.upper[out.row] = x.y[at] < 0
	}
	in := column{company: e.company, way: e.way}
	x.x[at] = step
	sign := 1.0
	if e.company == nobody {
		in.row, in.sign, sign = e.row, 1, e.from
		if e.from < 0 {
			x.x[at] = most - step
		}
		x.upper[e.row] = false
	}
	x.basis[at] = in
	x.pivot(at, sign)
}

// pivot updates the inverse for a new column at a row; y is the way the basis gave
// way to it, times a sign.
func (x *mix) pivot(at int, sign float64) {
	n := len(x.basis)
	row := x.inv[at*n : at*n+n]
	f := sign / x.y[at]
	for k := range row {
		row[k] *= f
	}
	for i := range n {
		if i != at && x.y[i] != 0 {
			addRow(x.inv[i*n:i*n+n], row, -sign*x.y[i])
		}
	}
}

// ratio finds how far something can come in, and what gives out there: the column
// at a row, or the key of a company; neither where it is its own end.
func (x *mix) ratio(e entering, most float64) (step float64, at, key int) {
	step, at, key = most, nobody, nobody
	size := math.Inf(1) // of the pivot; of equals the largest
	offer := func(t, pivot float64, row, company int) {
		t = max(t, 0)
		if t < step-nearZero || t <= step+nearZero && pivot > size {
			step, at, key, size = min(t, step), row, company, pivot
			if t < step {
				step = t
			}
		}
	}
	for i, y := range x.y {
		switch b := &x.basis[i]; {
		case y > nearZero:
			offer(x.x[i]/y, y, i, nobody)
		case y < -nearZero && b.company == nobody && !b.lacks && !math.IsInf(x.of.span[b.row], 1):
			offer((x.of.span[b.row]-x.x[i])/-y, -y, i, nobody)
		}
	}
	seen := false
	for i := range x.basis {
		c := x.basis[i].company
		if c == nobody || x.first(c) != i {
			continue
		}
		left, fall := 1.0, 0.0
		if c == e.company {
			fall, seen = 1, true
		}
		for k := range x.basis {
			if x.basis[k].company == c {
				left -= x.x[k]
				fall -= x.y[k]
			}
		}
		if fall > nearZero {
			offer(left/fall, fall, nobody, c)
		}
	}
	if e.company != nobody && !seen {
		offer(1, 1, nobody, e.company)
	}
	return step, at, key
}

// first is the first row of a company in the basis.
func (x *mix) first(c int) int {
	for i := range x.basis {
		if x.basis[i].company == c {
			return i
		}
	}
	return nobody
}

// spare is the row of the column to become the key of a company: the largest;
// nobody if it has none.
func (x *mix) spare(c int) int {
	best := nobody
	for i := range x.basis {
		if x.basis[i].company == c && (best == nobody || x.x[i] > x.x[best]) {
			best = i
		}
	}
	return best
}

// swapKey makes the column at a row the key of its company, and the key a column.
func (x *mix) swapKey(c, at int) {
	n := len(x.basis)
	left := 1.0
	row := x.inv[at*n : at*n+n]
	for i := range x.basis {
		if x.basis[i].company != c {
			continue
		}
		left -= x.x[i]
		if i != at {
			addRow(row, x.inv[i*n:i*n+n], 1)
		}
	}
	for k := range row {
		row[k] = -row[k]
	}
	x.key[c], x.basis[at].way = x.basis[at].way, x.key[c]
	x.x[at] = left
}

// again works out how the basis gives way to a slack.
func (x *mix) again(e entering) {
	n := len(x.basis)
	for i := range n {
		x.y[i] = e.from * x.inv[i*n+e.row]
	}
}
