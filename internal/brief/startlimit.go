package brief

import (
	"cmp"
	"slices"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// startLimit tells how late a group may start before somebody in it stands worse: who may not start then at all before the
// others, and of many only how many, with the worst by name.
func (t *teller) startLimit(s *section, g group) {
	worse := slices.Clone(g.GetStartLimit().GetWorse())
	if !g.GetStartLimit().GetLatestStartAt().IsValid() || len(worse) == 0 {
		return
	}
	slices.SortStableFunc(worse, func(a, b *pb.Worsening) int { return cmp.Compare(b.GetAfter(), a.GetAfter()) })
	const most = 3 // that are named with what becomes of each
	then := map[pb.Standing]string{
		pb.Standing_HELD: "held", pb.Standing_BACK: "at the back", pb.Standing_ADVISED: "with advice"}
	many := map[pb.Standing]string{
		pb.Standing_HELD: "are held", pb.Standing_BACK: "ride at the back", pb.Standing_ADVISED: "ride with advice"}
	var each, worst []string
	for _, one := range worse {
		name := phrase.FirstOf(one.GetDisplayName(), t.person(one.GetMember()))
		each = append(each, name+" ("+then[one.GetAfter()]+")")
		if one.GetAfter() == worse[0].GetAfter() {
			worst = append(worst, name)
		}
	}
	after := t.clock(g.GetStartLimit().GetLatestStartAt())
	if len(worse) <= most {
		s.say("If %s starts after %s, standings change: %s.", g.title, after, phrase.List(each))
		return
	}
	verb := many[worse[0].GetAfter()]
	if len(worst) == 1 {
		verb = map[pb.Standing]string{pb.Standing_HELD: "is held", pb.Standing_BACK: "rides at the back",
			pb.Standing_ADVISED: "rides with advice"}[worse[0].GetAfter()]
	}
	s.say("If %s starts after %s, %d riders stand worse; %d of them %s: %s.", g.title, after, len(worse), len(worst), verb, phrase.List(worst))
}
