package placement

// Certificate shows that no placement is better than the bound of a result, or
// that there is no placement. It is a tree of cases that between them cover every placement, each closed by
// the rules alone or by prices. Package proof checks it and shares no code with
// the search.
//
// Prices are the multipliers of a Lagrangian (Ahuja, Magnanti, Orlin: Network
// Flows, 1993, chapter 16). Let everybody pay the cost of where they ride and
// the prices of what they take up there, and give back to each group its prices
// times the most, or for a price below 0 the least, that it may have taken up.
// Whatever the prices, no placement costs less than what remains when every
// party picks the cheapest place for itself.
type Certificate struct {
	// Scale turns the strict order of objectives into one cost.
	Scale Scale
	// Claim is the cost that no placement is below; without meaning for a result
	// that is Infeasible, whose certificate has no case closed ByPrices.
	Claim int64
	// Prices are those the cases refer to.
	Prices []Prices
	Root   Case
}

// Scale is the cost of each rider left out, each point of discomfort and each
// preference not met; a move costs 1.
type Scale struct{ Unplaced, Discomfort, Preference int64 }

// Prices are what a rider pays in each group, groups in ID order, in parts of a unit
// of cost, Per of them to the unit: the best prices are not always whole.
type Prices struct {
	Per    int64 // at least 1
	Groups []GroupPrices
}

// GroupPrices are the prices of one group: of riding in it, of riding there with
// standing Back (never below 0), of leading, of marking the back.
type GroupPrices struct{ Size, Back, Lead, Mark int64 }

// Case is one node of the tree: closed, or split into cases.
type Case struct {
	Split Split
	Rider string // split ByGroup or ByJunior
	Group string // split ByRunning, ByLeader or ByBackMarker
	// Prices is the index of the prices that close the case; not used by a
	// split, nor where the case is Impossible.
	Prices int
	// Cases of ByGroup: the rider in each group, in ID order, and left out. Of
	// ByRunning: the group runs, does not. Of ByJunior: the rider rides, with
	// the guardian; is left out. Of ByLeader and ByBackMarker: the role is
	// filled by a rider of standing Back; by another.
	Cases []Case
}

// Split says how a case is closed or split.
type Split int

// The kinds of case.
const (
	Impossible   Split = iota // closed: the rules leave somebody no place, or a group no way to run
	ByPrices                  // closed: at the prices, nothing costs less than the claim
	ByRay                     // closed: at the prices, even if all costs were 0, nothing costs 0 or less
	ByRunning                 // does the group run?
	ByGroup                   // where does the rider ride?
	ByJunior                  // does the junior ride?
	ByLeader                  // is the leader of standing Back?
	ByBackMarker              // is the back marker?
)

// Size counts the closed cases of a certificate.
func (c Certificate) Size() int { return c.Root.size() }

func (c Case) size() int {
	if len(c.Cases) == 0 {
		return 1
	}
	n := 0
	for _, sub := range c.Cases {
		n += sub.size()
	}
	return n
}
