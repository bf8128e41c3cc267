package placement

import (
	"math"
)

// mix is a basis of the linear program of a mixing: a key way for each company, and
// for each row one more column. It is solved by the primal simplex method with
// generalized upper bounds (Dantzig, Van Slyke: J. Computer and System Sciences 1,
// 1967): the rows that say that each company rides in one way need no place in the
// basis. Numbers of the basis are floating-point; every bound is worked out from the
// prices in whole numbers.
type mix struct {
	of      *mixing
	may     scope
	key     []way
	basis   []column      // per row
	inv     []float64     // inverse of the basis, row by row
	x       []float64     // value of each column of the basis
	upper   []bool        // per row: its slack is at its upper end, and not in the basis
	prices  []GroupPrices // the last
	pi, y   []float64     // scratch
	penalty float64       // of what must not stay in the basis
	turns   int           // since the inverse was worked out anew
}

// column is a way of a company beside the key, a slack, or what a row lacks.
type column struct {
	company int // nobody for the others
	way     way
	row     int
	sign    float64
	lacks   bool
}

func newMix(of *mixing) *mix {
	n := len(of.limit)
	x := &mix{
		of: of, may: make(scope, len(of.in.units)), key: make([]way, len(of.companies)), basis: make([]column, n),
		inv: make([]float64, n*n), x: make([]float64, n), upper: make([]bool, n), prices: make([]GroupPrices, of.in.groups),
		pi: make([]float64, n), y: make([]float64, n),
	}
	return x
}

func (x *mix) copyFrom(src *mix) {
	copy(x.may, src.may)
	copy(x.key, src.key)
	copy(x.basis, src.basis)
	copy(x.inv, src.inv)
	copy(x.x, src.x)
	copy(x.upper, src.upper)
	copy(x.prices, src.prices)
	x.penalty, x.turns = src.penalty, src.turns
}

// begin makes the basis in which each company rides where it starts.
func (x *mix) begin(may scope, penalty float64) {
	of := x.of
	copy(x.may, may)
	x.penalty = penalty
	clear(x.prices)
	for c := range of.companies {
		g := of.start[c]
		if of.value(&of.companies[c], g, may, x.prices) == barred {
			g, _ = of.best(&of.companies[c], may, x.prices)
		}
		x.key[c] = of.way(&of.companies[c], g, may, x.prices)
	}
	clear(x.inv)
	slack := x.slacks()
	for i, s := range slack {
		x.upper[i] = false
		x.basis[i] = column{company: nobody, row: i, sign: 1}
		x.x[i] = s
		switch {
		case s < 0:
			x.basis[i].lacks, x.basis[i].sign, x.x[i] = true, -1, -s
		case s > of.span[i]:
			x.basis[i].lacks, x.x[i], x.upper[i] = true, s-of.span[i], true
		}
		x.inv[i*len(slack)+i] = x.basis[i].sign
	}
	x.turns = 0
}

// slacks is what each row has left of its limit with every company in its key way.
func (x *mix) slacks() []float64 {
	left := append([]float64(nil), x.of.limit...)
	for i := range x.key {
		x.of.spread(&x.key[i], -1, left)
	}
	return left
}

// spread adds a way's use, times a sign, to a column over the rows.
func (of *mixing) spread(w *way, sign float64, to []float64) {
	if w.group == of.in.groups {
		return
	}
	for k, use := range w.use {
		to[of.rowOf[w.group]+k] += sign * float64(use)
	}
}

// renew works out the inverse and the values anew, by elimination; false when the
// basis has become singular.
func (x *mix) renew() bool {
	n := len(x.basis)
	a := make([]float64, n*n) // column j of the basis in a[.*n+j]
	col := make([]float64, n)
	for j := range x.basis {
		clear(col)
		x.column(&x.basis[j], col)
		for i, v := range col {
			a[i*n+j] = v
		}
	}
	clear(x.inv)
	for i := range n {
		x.inv[i*n+i] = 1
	}
	for j := range n {
		top := j
		for i := j; i < n; i++ {
			if math.Abs(a[i*n+j]) > math.Abs(a[top*n+j]) {
				top = i
			}
		}
		if math.Abs(a[top*n+j]) < 1e-9 {
			return false
		}
		for k := range n {
			a[j*n+k], a[top*n+k] = a[top*n+k], a[j*n+k]
			x.inv[j*n+k], x.inv[top*n+k] = x.inv[top*n+k], x.inv[j*n+k]
		}
		scaleRow(a[j*n:j*n+n], x.inv[j*n:j*n+n], 1/a[j*n+j])
		for i := range n {
			if f := a[i*n+j]; i != j && f != 0 {
				addRow(a[i*n:i*n+n], a[j*n:j*n+n], -f)
				addRow(x.inv[i*n:i*n+n], x.inv[j*n:j*n+n], -f)
			}
		}
	}
	left := x.slacks()
	for i, at := range x.upper {
		if at {
			left[i] -= x.of.span[i]
		}
	}
	for i := range n {
		x.x[i] = dot(x.inv[i*n:i*n+n], left)
	}
	x.turns = 0
	return true
}

// column writes a column of the basis, less the key of its company.
func (x *mix) column(c *column, to []float64) {
	if c.company == nobody {
		to[c.row] = c.sign
		return
	}
	x.of.spread(&c.way, 1, to)
	x.of.spread(&x.key[c.company], -1, to)
}

// The products are rounded before they are added, so that every machine gets the
// same: fused into one operation they would not be.

func addRow(to, row []float64, f float64) {
	for k, v := range row {
		to[k] += float64(f * v)
	}
}

func scaleRow(a, b []float64, f float64) {
	for k := range a {
		a[k] *= f
		b[k] *= f
	}
}

func dot(a, b []float64) float64 {
	var sum float64
	for k, v := range a {
		sum += float64(v * b[k])
	}
	return sum
}
