package placement

import "math/bits"

// places is a set of places. Group g has four places, in this order; one more,
// after the last group, is "left out".
type places uint64

const (
	front = iota // rides anywhere in the group
	back         // rides at the back; takes a back place
	lead         // rides as leader
	mark         // rides as back marker
	kinds        // places per group
)

const nobody = -1

// groupPlaces is the set of all places of group g.
func groupPlaces(g int) places { return (1<<kinds - 1) << (kinds * g) }

// place is the set of one place of group g.
func place(g, kind int) places { return 1 << (kinds*g + kind) }

func (s places) first() int { return bits.TrailingZeros64(uint64(s)) }

// instance is the placement problem in numbers: riders and groups by index, in
// ID order.
type instance struct {
	riders, groups int
	cost           []int64  // rider r in group g at r*(groups+1)+g; left out at g == groups
	allow          []places // where each rider may be
	onBack         []uint32 // per rider: groups in which the rider takes a back place
	quota          []quota  // per group
	units          [][]int  // riders who go together, each unit by index
	unitOf         []int
	links          []link
	mustRide       bool // nobody may be left out
}

// quota is what a group needs if it runs.
type quota struct {
	min, max, back       int
	lead, mark           bool // the role must be filled
	namedLead, namedMark int  // rider, or nobody
	never                bool // cannot run
	must                 bool // runs in every answer
}

// link says that the riders of one unit ride only in the group of another.
type link struct {
	junior, guardian int
	rider            int // the junior
}

func newInstance(riders, groups int) *instance {
	return &instance{
		riders: riders, groups: groups,
		cost:   make([]int64, riders*(groups+1)),
		allow:  make([]places, riders),
		onBack: make([]uint32, riders),
		quota:  make([]quota, groups),
		unitOf: make([]int, riders),
	}
}

// out is the place of riders left out.
func (in *instance) out() int { return kinds * in.groups }

// costAt is the cost of a rider at a place.
func (in *instance) costAt(r, p int) int64 { return in.cost[r*(in.groups+1)+p/kinds] }

// groupOf is the group of a place; in.groups for riders left out.
func (in *instance) groupOf(p int) int { return p / kinds }

// permit lets a rider into a group, on a back place or not, and into the roles
// the rider may fill there.
func (in *instance) permit(r, g int, onBack, mayLead, mayMark bool) {
	q := &in.quota[g]
	if onBack && q.back == 0 {
		return
	}
	in.allow[r] |= place(g, front)
	if onBack {
		in.allow[r] ^= place(g, front) | place(g, back)
		in.onBack[r] |= 1 << g
	}
	if q.lead && mayLead && (q.namedLead == nobody || q.namedLead == r) {
		in.allow[r] |= place(g, lead)
	}
	if q.mark && mayMark && (q.namedMark == nobody || q.namedMark == r) {
		in.allow[r] |= place(g, mark)
	}
}

// settleNamed bars a group whose named leader or back marker cannot be that.
func (in *instance) settleNamed() {
	for g := range in.quota {
		q := &in.quota[g]
		if q.namedLead != nobody && in.allow[q.namedLead]&place(g, lead) == 0 ||
			q.namedMark != nobody && in.allow[q.namedMark]&place(g, mark) == 0 ||
			q.max == 0 {
			q.never = true
		}
	}
}
