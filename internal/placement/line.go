package placement

import (
	"cmp"
	"slices"
)

// block is riders of one cluster who sit next to each other.
type block struct {
	riders     []string // most experienced first
	experience int      // of the most experienced
}

// line fills the seats: leader, then those who ride anywhere, then those at the
// back, then the back marker.
func (o *ordering) line() {
	if o.head != "" {
		o.seats = append(o.seats, o.head)
	}
	ahead, woven, last := o.frontBlocks()
	if len(ahead) > 0 && o.keptBlock(ahead[0]) && o.inFront() {
		woven = o.fillFront(woven)
	}
	o.sit(ahead)
	o.weave(woven)
	o.sit(last)
	behind := o.backBlocks()
	if len(o.seats) == 1 && !o.single && (len(behind) > 0 || o.tail != "" && o.atBack(o.tail)) {
		o.leaveSeat() // rather than beside a rider of standing Back
	}
	o.sit(behind)
	if o.tail != "" {
		o.seats = append(o.seats, o.tail)
	}
}

// blocks gathers, by cluster, riders other than the leader and back marker.
func (o *ordering) blocks(atBack bool) []block {
	var list []block
	index := map[string]int{}
	for _, id := range o.ids {
		if id == o.head || id == o.tail || o.atBack(id) != atBack {
			continue
		}
		c := o.cluster[id]
		i, ok := index[c]
		if !ok {
			i = len(list)
			index[c] = i
			list = append(list, block{})
		}
		list[i].riders = append(list[i].riders, id)
		list[i].experience = max(list[i].experience, o.places[id].Experience)
	}
	for i := range list {
		b := &list[i]
		slices.SortStableFunc(b.riders, func(x, y string) int {
			return cmp.Compare(o.places[y].Experience, o.places[x].Experience)
		})
		o.arrange(b)
	}
	slices.SortStableFunc(list, func(x, y block) int { return cmp.Compare(y.experience, x.experience) })
	return list
}

// frontBlocks sorts the riders of standing Clear and Advised into those next to
// the leader, those to weave, and those last, who go with somebody further back.
func (o *ordering) frontBlocks() (ahead, woven, last []block) {
	var marker []block
	for _, b := range o.blocks(false) {
		switch {
		case o.goesWith(b, func(id string) bool { return id == o.head }):
			ahead = append(ahead, b)
		case o.goesWith(b, func(id string) bool { return id != o.tail && o.atBack(id) }):
			last = append(last, b)
		case o.goesWith(b, func(id string) bool { return id == o.tail }):
			marker = append(marker, b)
		default:
			woven = append(woven, b)
		}
	}
	return ahead, woven, append(marker, last...)
}

// backBlocks sorts the riders of standing Back: first those who go with the last
// of the riders before them, last those who go with the back marker.
func (o *ordering) backBlocks() []block {
	list := o.blocks(true)
	rank := func(b block) int {
		switch {
		case o.places[b.riders[len(b.riders)-1]].Guardian == o.tail && o.tail != "":
			return 3
		case len(o.seats) > 0 && o.goesWith(b, func(id string) bool { return id == o.seats[len(o.seats)-1] }):
			return 0
		case o.goesWith(b, func(id string) bool { return id == o.head || id != o.tail && !o.atBack(id) }):
			return 1
		case o.goesWith(b, func(id string) bool { return id == o.tail }):
			return 3
		}
		return 2
	}
	slices.SortStableFunc(list, func(x, y block) int { return cmp.Compare(rank(x), rank(y)) })
	return list
}

// goesWith reports whether somebody in the cluster of a block answers.
func (o *ordering) goesWith(b block, who func(string) bool) bool {
	return slices.ContainsFunc(o.membersOf(b.riders[0]), who)
}

func (o *ordering) sit(list []block) {
	for _, b := range list {
		if len(o.seats) == 1 && o.inFront() && o.keptBlock(b) {
			o.leaveSeat()
		}
		o.seats = append(o.seats, b.riders...)
	}
}

// inFront reports whether the next seat is in the first row.
func (o *ordering) inFront() bool { return len(o.seats) < 1 || len(o.seats) < 2 && !o.single }

// leaveSeat leaves the seat beside the first rider empty.
func (o *ordering) leaveSeat() {
	o.loneFirst = true
	o.seats = append(o.seats, "")
}

// fillFront seats somebody who may ride in the first row, if there is one alone, and gives the others.
func (o *ordering) fillFront(list []block) []block {
	for i, b := range list {
		if len(b.riders) == 1 {
			o.sit([]block{b})
			return slices.Delete(list, i, i+1)
		}
	}
	return list
}

// weave seats blocks, sorted by experience: the most experienced fill the first
// row, then most and least take turns. The second seat of a row goes to a block
// of odd size if there is one, so that pairs ride abreast.
func (o *ordering) weave(list []block) {
	fromTop := true
	for len(list) > 0 {
		second := !o.single && len(o.seats)%2 == 1
		if len(o.seats) < 2 {
			fromTop = true
		}
		i := o.pickBlock(list, fromTop, second)
		o.sit(list[i : i+1])
		list = slices.Delete(list, i, i+1)
		fromTop = !fromTop
		if len(o.seats)%2 == 0 {
			fromTop = true
		}
	}
}

// pickBlock picks the first block from the top or the bottom, of odd size if
// that is wanted and there is one, and for the first row one that may ride there.
func (o *ordering) pickBlock(list []block, fromTop, odd bool) int {
	pick := func(fits func(block) bool) int {
		for k := range list {
			i := k
			if !fromTop {
				i = len(list) - 1 - k
			}
			if fits(list[i]) {
				return i
			}
		}
		return -1
	}
	allowed := func(b block) bool { return !o.inFront() || !o.keptBlock(b) }
	for _, fits := range []func(block) bool{
		func(b block) bool { return allowed(b) && (!odd || len(b.riders)%2 == 1) }, allowed,
	} {
		if i := pick(fits); i >= 0 {
			return i
		}
	}
	return pick(func(block) bool { return true })
}
