package placement

import "slices"

// Place is one rider of a group whose riding order is wanted.
type Place struct {
	Rider      string
	Standing   Standing
	Party      string // riders with the same non-empty party stay together
	Guardian   string // of a junior, else ""
	Experience int
}

// Row is two riders abreast, or one: then Right is "".
type Row struct{ Left, Right string }

// OrderParams is what the riding order of one group follows from.
type OrderParams struct {
	Places             []Place
	Leader, BackMarker string // "" if there is none
	SingleFile         bool   // one rider to a row, as on narrow or busy roads
}

// Places lists the riders of one group of a result for [Order].
func (p Problem) Places(g GroupResult) []Place {
	var list []Place
	for _, r := range p.Riders {
		if slices.Contains(g.Riders, r.ID) {
			place := Place{Rider: r.ID, Standing: r.StandingIn(g.ID), Party: r.Party, Experience: r.Experience}
			if r.Junior {
				place.Guardian = r.Guardian
			}
			list = append(list, place)
		}
	}
	return list
}

// Order puts the riders of one group in rows, front to back, and says what the
// people concerned should be told. In falling importance:
//
//   - the leader is in the first row, the back marker last of all;
//   - a junior and the guardian share a row or ride in rows next to each other, and
//     not in the first row, unless the guardian leads: where one of the two is of
//     standing Back, or the guardian is the back marker, the other goes along to the
//     back; with a guardian who leads, the junior goes along to the front;
//   - everybody else of standing Clear or Advised rides before anybody of standing
//     Back, the leader and back marker apart;
//   - nobody but the leader is in the first row with standing Back, unless nobody
//     else is left for it: a first rider rides there alone if need be;
//   - parties keep to the same row or to rows next to each other;
//   - the most experienced ride beside the leader; behind them the more and the
//     less experienced take turns, so that the less experienced are not abreast
//     near the front.
//
// Equals go by rider ID, so the order does not depend on that of the places.
func Order(p OrderParams) ([]Row, []string) {
	o := newOrdering(p)
	o.line()
	return o.rows(), o.notes()
}

// ordering is a riding order in the making.
type ordering struct {
	places     map[string]Place
	ids        []string // sorted
	head, tail string   // leader and back marker, if they ride here
	cluster    map[string]string
	families   map[string]family // by guardian
	seats      []string          // front to back, "" for an empty seat
	single     bool
	loneFirst  bool
	p          OrderParams
	together   [][]string // clusters of two and more
}

func newOrdering(p OrderParams) *ordering {
	o := &ordering{places: map[string]Place{}, cluster: map[string]string{}, single: p.SingleFile, p: p}
	for _, x := range p.Places {
		if _, ok := o.places[x.Rider]; !ok {
			o.ids = append(o.ids, x.Rider)
			o.places[x.Rider] = x
		}
	}
	slices.Sort(o.ids)
	if _, ok := o.places[p.Leader]; ok {
		o.head = p.Leader
	}
	if _, ok := o.places[p.BackMarker]; ok && p.BackMarker != o.head {
		o.tail = p.BackMarker
	}
	o.gatherFamilies()
	o.clusters()
	return o
}

// clusters finds who goes together: each rider gets the first ID of the cluster.
func (o *ordering) clusters() {
	for _, id := range o.ids {
		o.cluster[id] = id
	}
	for changed := true; changed; {
		changed = false
		for _, a := range o.ids {
			for _, b := range o.ids {
				x, y := o.places[a], o.places[b]
				if x.Party != "" && x.Party == y.Party || x.Guardian == b || y.Guardian == a {
					if first := min(o.cluster[a], o.cluster[b]); o.cluster[a] != first || o.cluster[b] != first {
						o.cluster[a], o.cluster[b], changed = first, first, true
					}
				}
			}
		}
	}
	for _, id := range o.ids {
		if c := o.membersOf(id); c[0] == id && len(c) > 1 {
			o.together = append(o.together, c)
		}
	}
}

// membersOf lists the cluster of a rider.
func (o *ordering) membersOf(id string) []string {
	var list []string
	for _, other := range o.ids {
		if o.cluster[other] == o.cluster[id] {
			list = append(list, other)
		}
	}
	return list
}

// sentBack reports whether a rider's own standing sends the rider to the back.
func (o *ordering) sentBack(id string) bool { return o.places[id].Standing >= Back }

// atBack reports whether a rider rides behind those of standing Clear and Advised: for the own standing, or with a junior
// or guardian.
func (o *ordering) atBack(id string) bool {
	if f, ok := o.familyOf(id); ok {
		return f.back && id != o.tail || (id == o.head || id == o.tail) && o.sentBack(id)
	}
	return o.sentBack(id)
}

// rows cuts the seats into rows.
func (o *ordering) rows() []Row {
	var rows []Row
	abreast := 2
	if o.single {
		abreast = 1
	}
	for pair := range slices.Chunk(o.seats, abreast) {
		row := Row{Left: pair[0]}
		if len(pair) == 2 {
			row.Right = pair[1]
		}
		rows = append(rows, row)
	}
	o.align(rows)
	return rows
}
