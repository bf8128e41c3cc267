package render

import (
	"cmp"
	"slices"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// limitWords tell how late a group may start before somebody stands worse, and who, the worst first: "after 11:46, Ida Marl
// is held in it". Of many they tell how many, and the worst. Empty where nobody does on that day, or it is not known. A
// minute begun counts as over: the careful side.
func limitWords(limit *pb.StartLimit, w phrase.Watch) string {
	worse := slices.Clone(limit.GetWorse())
	if !limit.GetLatestStartAt().IsValid() || len(worse) == 0 {
		return ""
	}
	slices.SortStableFunc(worse, func(a, b *pb.Worsening) int { return cmp.Compare(b.GetAfter(), a.GetAfter()) })
	return "after " + w.Clock(limit.GetLatestStartAt()) + ", " + worseWords(worse)
}

// LatestStarts tell how late a group of a roster may start: to be home in the light, and before somebody in it stands worse.
func LatestStarts(plan *pb.RidePlan, group *pb.RosterGroup, w phrase.Watch) (said []string) {
	if name, words := startWords(plan, group.GetPlan(), w); name != "" {
		said = append(said, name+": "+words)
	}
	if words := limitWords(group.GetStartLimit(), w); words != "" {
		said = append(said, "If it starts late: "+words)
	}
	return said
}

// worseWords tell who stands worse, given the worst first.
func worseWords(worse []*pb.Worsening) string {
	const most = 3
	var each, named []string
	for _, one := range worse {
		name := phrase.FirstOf(one.GetDisplayName(), last(one.GetMember()), "somebody")
		each = append(each, name+" "+worseWord[one.GetAfter()].one)
		if one.GetAfter() == worse[0].GetAfter() {
			named = append(named, name)
		}
	}
	if len(worse) <= most {
		return joined(each...)
	}
	words, n := phrase.Counted(len(worse), "rider", "riders")+" stand worse, ", len(named)
	switch {
	case n == len(worse):
		words = phrase.Counted(n, "rider", "riders") + " " + worseWord[worse[0].GetAfter()].many
	case n == 1:
		return words + "1 of them " + worseWord[worse[0].GetAfter()].one + ": " + named[0]
	default:
		words += phrase.Number(float64(n), 0) + " of them " + worseWord[worse[0].GetAfter()].many
	}
	if n > most {
		named = append(named[:most], phrase.Number(float64(n-most), 0)+" more")
	}
	return words + ": " + joined(named...)
}

var worseWord = map[pb.Standing]struct{ one, many string }{
	pb.Standing_ADVISED: {"rides with advice", "ride with advice"},
	pb.Standing_BACK:    {"is sent to the back", "are sent to the back"},
	pb.Standing_HELD:    {"is held in it", "are held in it"},
}
