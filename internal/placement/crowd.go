package placement

// crowd knows who is at each place (linked lists over riders) and, for each pair
// of places, the rider whose move from one to the other costs least. Of riders
// who cost the same the first is taken, so the answer does not depend on history.
type crowd struct {
	places     int
	head       []int16 // per place: first rider, or nobody
	next, prev []int16 // per rider
	mover      []int16 // from*places+to: rider, or nobody
	moveCost   []int64
}

func newCrowd(riders, places int) crowd {
	return crowd{
		places: places,
		head:   make([]int16, places),
		next:   make([]int16, riders), prev: make([]int16, riders),
		mover: make([]int16, places*places), moveCost: make([]int64, places*places),
	}
}

func (c *crowd) copyFrom(src *crowd) {
	copy(c.head, src.head)
	copy(c.next, src.next)
	copy(c.prev, src.prev)
	copy(c.mover, src.mover)
	copy(c.moveCost, src.moveCost)
}

// rebuild starts afresh from where the riders are.
func (c *crowd) rebuild(f *flow) {
	for p := range c.head {
		c.head[p] = nobody
	}
	for i := range c.mover {
		c.mover[i] = nobody
	}
	for r := len(f.at) - 1; r >= 0; r-- {
		c.enter(f, r, int(f.at[r]))
	}
}

// enter adds a rider to a place.
func (c *crowd) enter(f *flow, r, p int) {
	c.prev[r], c.next[r] = nobody, c.head[p]
	if c.head[p] != nobody {
		c.prev[c.head[p]] = int16(r)
	}
	c.head[p] = int16(r)
	c.offer(f, r, p, f.allow[r])
}

// offer enters a rider's moves from a place to others where they cost least.
func (c *crowd) offer(f *flow, r, p int, to places) {
	row := f.in.cost[r*(f.in.groups+1) : (r+1)*(f.in.groups+1)]
	here := row[p/kinds]
	for s := to; s != 0; s &= s - 1 {
		q := s.first()
		i := p*c.places + q
		cost := row[q/kinds] - here
		if m := c.mover[i]; m == nobody || cost < c.moveCost[i] || cost == c.moveCost[i] && r < int(m) {
			c.mover[i], c.moveCost[i] = int16(r), cost
		}
	}
}

// leave takes a rider from a place, and the rider's moves to others.
func (c *crowd) leave(f *flow, r, p int, to places) {
	if c.prev[r] == nobody {
		c.head[p] = c.next[r]
	} else {
		c.next[c.prev[r]] = c.next[r]
	}
	if c.next[r] != nobody {
		c.prev[c.next[r]] = c.prev[r]
	}
	c.withdraw(f, r, p, to)
}

// withdraw takes a rider's moves from a place to others, which are left to the next
// best at that place.
func (c *crowd) withdraw(f *flow, r, p int, to places) {
	var lost places
	for s := to; s != 0; s &= s - 1 {
		q := s.first()
		if i := p*c.places + q; c.mover[i] == int16(r) {
			c.mover[i] = nobody
			lost |= 1 << q
		}
	}
	if lost == 0 {
		return
	}
	for o := c.head[p]; o != nobody; o = c.next[o] {
		c.offer(f, int(o), p, f.allow[o]&lost)
	}
}
