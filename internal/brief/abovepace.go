package brief

import (
	"math"

	"gritward/internal/phrase"
)

// askFromKmh is how far above the own pace a rider is asked before the start, km/h: common practice, no source.
const askFromKmh = 2

// abovePace tells who of a group would ride much faster than the own pace. For a junior that is urgent.
func (t *teller) abovePace(s *section, g group) {
	for _, r := range ridersOf(g.RosterGroup) {
		off := r.GetPaceOffKmh()
		switch {
		case !(off >= askFromKmh) || math.IsInf(off, 0):
		case r.GetJunior():
			s.alert("%s, a junior, would ride %s km/h above own pace in %s: ask both junior and guardian before the start.", t.rider(r), phrase.Number(off, 1), g.title)
		default:
			s.say("%s would ride %s km/h above own pace in %s: ask before the start.", t.rider(r), phrase.Number(off, 1), g.title)
		}
	}
}

// wishes tells who of a group wished for another, and why the rider is not there.
func (t *teller) wishes(s *section, g group) {
	for _, r := range ridersOf(g.RosterGroup) {
		if title := r.GetWishedTitle(); title != "" {
			s.say("%s wished for %s and rides in %s%s: ask before the start.", t.rider(r), title, g.title,
				phrase.Between(" (", phrase.Bare(r.GetWishedWhy()), ")"))
		}
	}
}
