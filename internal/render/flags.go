package render

import "slices"

// flag is an instant marked by a line down to its label.
type flag struct {
	X     px
	Label label
	Lane  int
	width px
}

// anchor hangs a placed label on its line, or on the edge it was pushed in from, so that its true width does not matter.
func (f *flag) anchor() {
	left := f.Label.X
	switch {
	case left == f.X+3: // begins at its line already
	case left == f.X-3-f.width, left > f.X:
		f.Label.X, f.Label.Anchor = left+f.width, "end"
	case left+f.width > f.X: // its own line runs through it
		f.Label.X, f.Label.Anchor = left+f.width/2, "middle"
	}
}

// placeFlags gives each flag, in order of X, a side of its line and a lane for its label, so that no label lies over
// another and, as far as there is a way, no line runs through a label. It gives the number of lanes. The few flags of a day
// let it try every choice of sides.
func placeFlags(flags []flag, left, right, size px) (lanes int) {
	const most = 8 // beyond that the sides are not searched
	for i := range flags {
		flags[i].width = textWidth(flags[i].Label.Text, size)
	}
	choices := 2 << min(len(flags), most)
	var best []flag
	bestCost := 0
	for choice := range choices {
		try := slices.Clone(flags)
		cost := placeSides(try, choice, left, right)
		if best == nil || cost < bestCost {
			best, bestCost = try, cost
		}
	}
	copy(flags, best)
	for _, f := range flags {
		lanes = max(lanes, f.Lane+1)
	}
	return lanes
}

// placeSides lays the labels out for one choice: bit 0 is which side goes first, bit i+1 tells whether label i stands to
// the left of its line. Of each side the inner goes first, so that the outer lines pass it by. The cost counts lines
// through labels before lanes.
func placeSides(flags []flag, choice int, left, right px) (cost int) {
	var leftward, rightward []*flag
	for i := range flags {
		f := &flags[i]
		if choice>>(i+1)&1 == 1 {
			f.Label.X = f.X - 3 - f.width
			leftward = append(leftward, f)
		} else {
			f.Label.X = f.X + 3
			rightward = append(rightward, f)
		}
		f.Label.X = max(left, min(f.Label.X, right-f.width))
	}
	slices.Reverse(rightward)
	order := append(slices.Clone(leftward), rightward...)
	if choice&1 == 1 {
		order = append(rightward, leftward...)
	}
	lanes := 0
	for i, f := range order {
		for f.Lane = 0; f.Lane <= i && collides(f, order[:i]); f.Lane++ {
		}
		lanes = max(lanes, f.Lane+1)
	}
	return 100*crossings(order) + lanes
}

// collides tells whether f's label lies over one that is placed, or a line would run through either.
func collides(f *flag, done []*flag) bool {
	for _, d := range done {
		if f.Lane == d.Lane && f.Label.X < d.Label.X+d.width+6 && d.Label.X < f.Label.X+f.width+6 || f.through(d) || d.through(f) {
			return true
		}
	}
	return false
}

// through tells whether f's line runs through the label of another.
func (f *flag) through(other *flag) bool {
	return f.Lane > other.Lane && f.X > other.Label.X-2 && f.X < other.Label.X+other.width+2
}

// crossings counts the lines that run through labels, their own or another's.
func crossings(flags []*flag) (n int) {
	for _, f := range flags {
		if f.X > f.Label.X && f.X < f.Label.X+f.width {
			n++
		}
		for _, other := range flags {
			if f.through(other) {
				n++
			}
		}
	}
	return n
}
