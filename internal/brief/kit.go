package brief

import (
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

func (t *teller) kit() *section {
	s := &section{id: "kit", title: "What to carry"}
	var spared []string
	for _, g := range t.groups {
		if g.plan.GetLitMin() > 0 {
			s.say("%s: a white front light and a red rear light on every bike, charged, lit %s.", g.title, t.litTimes(g.plan))
		} else {
			spared = append(spared, g.title)
		}
	}
	if len(spared) < len(t.groups) {
		// Common practice, no source.
		s.say("With lamps lit in a group, aim front ones down and keep rear ones steady: glare and flashes blind the rider in front or behind.")
	}
	if len(spared) > 0 {
		// Common practice, no source.
		s.say("%s: take lights all the same. One long repair uses up the daylight.", phrase.List(spared))
	}
	// Common practice, no source: what clubs ask riders to carry, in the order of the declaration.
	s.say("Everybody: two spare tubes, a pump or inflator, tyre levers, a multi-tool, and a joining link or chain tool.")
	s.say("A charged telephone, your name and emergency contact on paper, food and some money.")
	warm := "A waterproof and one more warm layer than you need while riding: standing still is cold."
	if t.holds(pb.Circumstance_ICE) {
		warm += " A foil blanket in every group."
	}
	s.say("%s", warm)
	return s
}
