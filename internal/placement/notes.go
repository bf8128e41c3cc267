package placement

import (
	"fmt"
	"strings"
)

// notes says what about the order is not as it should be, or unusual.
func (o *ordering) notes() []string {
	if len(o.ids) == 0 {
		return []string{"Nobody rides in this group."}
	}
	var list []string
	notef := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	for _, id := range o.ids {
		if o.places[id].Standing >= Held {
			notef("%s is held and does not start until that is put right.", id)
		}
	}
	o.roleNotes(notef)
	o.frontNotes(notef)
	o.familyNotes(notef)
	o.oddNotes(notef)
	for _, c := range o.together {
		if o.apart(c) {
			notef("%s go together but cannot all ride next to each other: their standings or roles part them.", strings.Join(c, ", "))
		}
	}
	return list
}

func (o *ordering) roleNotes(notef func(string, ...any)) {
	switch {
	case o.p.Leader != "" && o.head == "":
		notef("The leader %s does not ride in this group: name another.", o.p.Leader)
	case o.p.Leader == "":
		notef("This group has no leader.")
	}
	switch {
	case o.p.BackMarker != "" && o.p.BackMarker == o.head:
		notef("%s cannot be both leader and back marker: name another back marker.", o.head)
	case o.p.BackMarker != "" && o.tail == "":
		notef("The back marker %s does not ride in this group: name another.", o.p.BackMarker)
	case o.p.BackMarker == "":
		notef("This group has no back marker.")
	}
}

func (o *ordering) frontNotes(notef func(string, ...any)) {
	first := o.rows()[0]
	for _, id := range []string{first.Left, first.Right} {
		switch {
		case id == "" || !o.sentBack(id):
		case id == o.head:
			notef("%s leads, but is of standing back: leave a gap behind %s.", id, id)
		case o.places[id].Guardian == o.head && o.head != "": // told with the family
		default:
			notef("%s is of standing back, but nobody else is left for the first row: leave a gap behind %s.", id, id)
		}
	}
	if o.allAtBack() {
		notef("Everybody here is of standing back: leave a gap behind every bike.")
	}
	if o.loneFirst {
		notef("%s rides alone in the first row: nobody else may ride at the front.", first.Left)
	}
}

func (o *ordering) oddNotes(notef func(string, ...any)) {
	n := len(o.seats)
	switch {
	case o.single:
		notef("Single file.")
	case len(o.ids) == 1:
		notef("%s rides alone.", o.ids[0])
	case n%2 == 1:
		notef("%s rides alone in the last row.", o.seats[n-1])
	}
}

func (o *ordering) allAtBack() bool {
	for _, id := range o.ids {
		if !o.sentBack(id) {
			return false
		}
	}
	return true
}

// apart reports whether some of a cluster are more than one row from the next.
func (o *ordering) apart(cluster []string) bool {
	last := -1
	for row, r := range o.rows() {
		for _, id := range cluster {
			if id == r.Left || id == r.Right {
				if last >= 0 && row-last > 1 {
					return true
				}
				last = row
			}
		}
	}
	return false
}
