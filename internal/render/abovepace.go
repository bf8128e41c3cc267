package render

import (
	"math"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// askFromKmh is how far above the own pace a rider is asked before the start, km/h: common practice, no source.
const askFromKmh = 2

// abovePace tells who of a group would ride much faster than the own pace; first is for juniors, which are urgent.
func (s *sheet) abovePace(g *pb.RosterGroup) (juniors, others []string) {
	for _, row := range g.GetRows() {
		for _, r := range []*pb.Rider{row.GetLeft(), row.GetRight()} {
			off := r.GetPaceOffKmh()
			if !(off >= askFromKmh) || math.IsInf(off, 0) {
				continue
			}
			words := " would ride " + phrase.Number(off, 1) + " km/h above own pace in " + groupTitle(g) + ": ask "
			if r.GetJunior() {
				juniors = append(juniors, s.rider(r)+", a junior,"+words+"both junior and guardian before the start.")
			} else {
				others = append(others, s.rider(r)+words+"before the start.")
			}
		}
	}
	return juniors, others
}
