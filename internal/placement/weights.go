package placement

// weights turns the strict order of objectives into one integer: each weight
// exceeds the largest total of everything less important. With at most
// MaxRiders riders and MaxPaceKmh, a total is at most
// 2001 · 2001² · (2000·3·1000+1) < 5·10¹⁶, well inside 63 bits.
type weights struct {
	unplaced, discomfort, preference int64 // a move weighs 1
	riders, preferences              int
}

func newWeights(p Problem) weights {
	var most int64
	prefs := 0
	for _, r := range p.Riders {
		worst := 0
		for _, g := range p.Groups {
			worst = max(worst, Discomfort(r, g))
		}
		most += int64(worst)
		if r.Preferred != "" {
			prefs++
		}
	}
	n := int64(len(p.Riders)) + 1
	return weights{
		unplaced:    n * n * (most + 1),
		discomfort:  n * n,
		preference:  n,
		riders:      len(p.Riders),
		preferences: prefs,
	}
}

// place is the cost of a rider in a group.
func (w weights) place(r Rider, g Group) int64 {
	return int64(Discomfort(r, g))*w.discomfort + w.minor(r, g.ID)
}

// leave is the cost of a rider left out.
func (w weights) leave(r Rider) int64 { return w.unplaced + w.minor(r, "") }

func (w weights) minor(r Rider, group string) int64 {
	var c int64
	if r.Preferred != "" && r.Preferred != group {
		c += w.preference
	}
	if moved(r, group) {
		c++
	}
	return c
}

// objective turns a total cost, or a lower bound on it, back into its parts.
func (w weights) objective(cost int64) Objective {
	return Objective{
		Placed:         w.riders - int(cost/w.unplaced),
		Discomfort:     int(cost % w.unplaced / w.discomfort),
		PreferencesMet: max(0, w.preferences-int(cost%w.discomfort/w.preference)),
		Moves:          int(cost % w.preference),
	}
}
