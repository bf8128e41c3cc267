package placement

// Standing is how a rider's bike stands in one group, best first.
type Standing int

// The standings, in growing severity.
const (
	Clear   Standing = iota // rides anywhere in the group
	Advised                 // rides anywhere, with advice
	Back                    // rides at the back of the group
	Held                    // does not start in the group
)

// String returns the standing as a lower-case word.
func (s Standing) String() string {
	switch s {
	case Clear:
		return "clear"
	case Advised:
		return "advised"
	case Back:
		return "back"
	case Held:
		return "held"
	}
	return "unknown"
}

// Rider is one person who signed up.
type Rider struct {
	// ID is unique and not empty.
	ID string
	// PaceMinKmh and PaceMaxKmh are the comfortable band in km/h, 0 to
	// [MaxPaceKmh], min not above max.
	PaceMinKmh, PaceMaxKmh float64
	// Preferred is a group ID, or "" for none. A group that is not in the
	// problem counts as a preference not met.
	Preferred string
	// Party: riders with the same non-empty party ride in one group or not at all.
	Party string
	// MayLead and MayMarkBack are the qualifications to lead and to ride as
	// back marker. They do not count for a junior.
	MayLead, MayMarkBack bool
	// Junior rides only in the group of Guardian, a rider ID. A junior with no
	// guardian is not placed.
	Junior   bool
	Guardian string
	// Standings holds the standing per group ID; a missing entry is Held.
	Standings map[string]Standing
	// Previous is the group in the last issue, "" if none. It may be a group
	// that is no longer there: then any place is a move.
	Previous string
	// Pinned is the group fixed by the ride leader, "" if none. The hard rules
	// still hold, so a pinned rider may be left out, but never rides elsewhere.
	Pinned string
	// MustRide: only placements in which the rider has a place count. Where there
	// is none the result is Infeasible.
	MustRide bool
	// Experience is the number of rides ridden; it counts in the choice of
	// leader and back marker and in the riding order only.
	Experience int
}

// StandingIn returns the rider's standing in a group; Held when none is given.
func (r Rider) StandingIn(group string) Standing {
	if s, ok := r.Standings[group]; ok {
		return s
	}
	return Held
}

// Group is one group that may run.
type Group struct {
	// ID is unique and not empty.
	ID string
	// PaceKmh is the steady pace on a flat road, above 0, at most [MaxPaceKmh].
	PaceKmh float64
	// MinSize is the fewest riders the group runs with (0 means 1), MaxSize the
	// most, BackPlaces the most riders of standing Back.
	MinSize, MaxSize, BackPlaces int
	// Leader and BackMarker are the riders named by the ride leader, or "".
	Leader, BackMarker string
	// LeaderWaived and BackMarkerWaived: the group runs without one, unless one is
	// named, though the problem needs one.
	LeaderWaived, BackMarkerWaived bool
	// MustRun: only placements in which the group runs count. Where there is none
	// the result is Infeasible.
	MustRun bool
}

// Problem is everything placement looks at.
type Problem struct {
	Riders []Rider // at most MaxRiders
	Groups []Group // at most MaxGroups
	// NeedLeader and NeedBackMarker: each group that runs must have one. A rider
	// named for the role must have it and ride in the group even when not needed.
	NeedLeader, NeedBackMarker bool
	// NodeLimit bounds each pass of the search, in nodes: one with every junior
	// tied to the guardian, one without if that left riders out, one to settle
	// ties. 0 means DefaultNodeLimit. It is a count and not a time, so that every
	// machine stops at the same answer; the smaller it is, the more riders may be
	// left out without need, down to all of them.
	NodeLimit int
}

// Objective measures a placement, in strict order of importance.
type Objective struct {
	Placed         int // riders placed; more is better
	Discomfort     int // sum of Discomfort over those placed; less is better
	PreferencesMet int // riders placed in the group they prefer; more is better
	Moves          int // riders with a Previous group who are not in it; less is better
}

// Better reports whether o is strictly better than other.
func (o Objective) Better(other Objective) bool {
	switch {
	case o.Placed != other.Placed:
		return o.Placed > other.Placed
	case o.Discomfort != other.Discomfort:
		return o.Discomfort < other.Discomfort
	case o.PreferencesMet != other.PreferencesMet:
		return o.PreferencesMet > other.PreferencesMet
	}
	return o.Moves < other.Moves
}

// Seat is one rider's place in a group.
type Seat struct{ Rider, Group string }

// GroupResult is one group of the answer.
type GroupResult struct {
	ID                 string
	Runs               bool
	Leader, BackMarker string   // "" when not needed and not named, or the group does not run
	Riders             []string // by ID; empty when the group does not run
	WhyNot             string   // in plain words, when the group does not run
}

// Reason says why a rider is not in a group.
type Reason struct {
	Group string // "" when it holds for every group
	Text  string // in plain words: "held", "full", "group does not run: no leader", ...
}

// Unplaced is a rider without a group, with a reason for each group.
type Unplaced struct {
	Rider   string
	Reasons []Reason
}

// Result is the answer to a problem. Groups and riders are in ID order.
type Result struct {
	Groups    []GroupResult
	Unplaced  []Unplaced
	Objective Objective
	// Infeasible: no placement keeps every MustRide and MustRun. Then nobody is
	// placed and no reasons are told.
	// Without Proven the search met its limit before it found one.
	Infeasible bool
	// Proven reports that no placement has a better objective. Otherwise none
	// is better than Bound. When proven, Bound equals Objective.
	Proven bool
	Bound  Objective
	// Nodes is how many nodes the search visited.
	Nodes int
}

// Seats lists who rides where, by rider ID.
func (r Result) Seats() []Seat {
	var seats []Seat
	for _, g := range r.Groups {
		for _, id := range g.Riders {
			seats = append(seats, Seat{Rider: id, Group: g.ID})
		}
	}
	sortBy(seats, func(s Seat) string { return s.Rider })
	return seats
}
