package web

import (
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// judged is an assessment, and what of: "by day", "Steady".
type judged struct {
	Where string
	*pb.Assessment
}

// answer is what one rule says, and where it says so.
type answer struct {
	*pb.Finding
	// Where names the days or groups of which it is said; empty: all that were looked at.
	Where string
}

// Means says what it costs.
func (a answer) Means() string { return meansOf(a.Standing) }

// Whole is all that is shown of an answer, in one string; "" where it tells what somebody declared.
func (a answer) Whole() (string, error) {
	if a.Standing != pb.Standing_CLEAR && !a.NotDeclared {
		return "", nil
	}
	return together(a.Standing.String(), a.Where, a.Remedy, a.Needed), nil
}

// meansOf says what a standing means on the road.
func meansOf(standing pb.Standing) string {
	switch standing {
	case pb.Standing_CLEAR:
		return "clear"
	case pb.Standing_ADVISED:
		return "advice"
	case pb.Standing_BACK:
		return "back of the group"
	case pb.Standing_HELD:
		return "held"
	}
	return "not looked at"
}

// heldIn tells whether a bike is held anywhere.
func heldIn(all []judged) bool {
	return slices.ContainsFunc(all, func(one judged) bool { return one.GetStanding() == pb.Standing_HELD })
}

// answersOf puts together what several assessments say, the dearest first, each once.
func answersOf(all []judged) []answer {
	type said struct {
		finding *pb.Finding
		where   []string
	}
	var found []*said
	for _, one := range all {
		for _, finding := range one.GetFindings() {
			at := slices.IndexFunc(found, func(s *said) bool { return s.finding.Rule == finding.Rule && proto.Equal(s.finding, finding) })
			if at < 0 {
				at = len(found)
				found = append(found, &said{finding: finding})
			}
			found[at].where = append(found[at].where, one.Where)
		}
	}
	var answers []answer
	for _, s := range found {
		one := answer{Finding: s.finding}
		if len(s.where) < len(all) {
			one.Where = phrase.List(s.where)
		}
		answers = append(answers, one)
	}
	slices.SortStableFunc(answers, func(a, b answer) int { return int(b.Standing) - int(a.Standing) })
	return answers
}

// unmetOf are the answers that cost something.
func unmetOf(answers []answer) []answer {
	return slices.DeleteFunc(slices.Clone(answers), func(a answer) bool { return a.Standing <= pb.Standing_CLEAR })
}

// tellOnce has what is to do told once: an answer goes where a dearer one tells of the same lack in the same places, and leaves
// what to do to the dearer one where only that is the same. The answers are in order, the dearest first.
func tellOnce(answers []answer) []answer {
	var told []answer
	for _, one := range answers {
		todo := func(other answer) bool { return other.asks(one) }
		whole := func(other answer) bool {
			return other.asks(one) && other.Declared == one.Declared && (other.Where == "" || other.Where == one.Where)
		}
		switch {
		case slices.ContainsFunc(told, whole):
			continue
		case slices.ContainsFunc(told, todo):
			one.Finding = proto.CloneOf(one.Finding)
			one.Remedy = ""
		}
		told = append(told, one)
	}
	return told
}

// asks tells whether whoever does what is to do here has done what is to do there, too: the same, or one of the things to declare.
func (a answer) asks(other answer) bool {
	if other.Remedy == "" || !a.NotDeclared || !other.NotDeclared {
		return other.Remedy != "" && a.Remedy == other.Remedy
	}
	return strings.Contains(a.Remedy, strings.TrimPrefix(strings.TrimSuffix(other.Remedy, "."), "Declare "))
}

// about are the answers of some checks: what costs something, or, where nothing does, one that all is clear.
func about(answers []answer, checks []pb.Check) []answer {
	var of []answer
	for _, one := range answers {
		if slices.Contains(checks, one.Check) {
			of = append(of, one)
		}
	}
	if unmet := tellOnce(unmetOf(of)); len(unmet) > 0 || len(of) == 0 {
		return unmet
	}
	return []answer{{Finding: &pb.Finding{Standing: pb.Standing_CLEAR}}}
}

// tried asks where a bike would stand with the facts: on days, or in the groups of a ride where one is asked about.
func (v *visit) tried(facts *pb.BikeFacts, bike, ride string) ([]judged, error) {
	if facts.Title == "" {
		facts = proto.CloneOf(facts)
		facts.Title = "bike" // a name is asked for when it is certified
	}
	response, err := v.bikes.TryFacts(v.ctx, &pb.TryFactsRequest{Parent: v.asked(), BikeId: bike, Facts: facts, Ride: ride})
	if err != nil {
		return nil, err
	}
	if ride == "" {
		return []judged{{"by day", response.ByDay}, {"after dark", response.AfterDark}}, nil
	}
	return v.inGroups(ride, response.Groups)
}

// inGroups names the groups of a ride beside what is said of them.
func (v *visit) inGroups(ride string, assessments []*pb.Assessment) ([]judged, error) {
	found, err := v.rides.GetRide(v.ctx, &pb.GetRideRequest{Name: ride})
	if err != nil {
		return nil, err
	}
	return judgedIn(found, assessments), nil
}

func judgedIn(ride *pb.Ride, assessments []*pb.Assessment) []judged {
	titles := groupTitles(ride)
	var all []judged
	for _, one := range assessments {
		all = append(all, judged{phrase.FirstOf(titles[one.Group], one.Group), one})
	}
	return all
}

// groupTitles are what the groups of a ride are called, by their ids.
func groupTitles(ride *pb.Ride) map[string]string {
	titles := map[string]string{}
	for _, group := range ride.GetGroups() {
		titles[group.Id] = phrase.FirstOf(group.Title, group.Id)
	}
	return titles
}

// standingsIn puts groups together that stand alike: "Brisk and Steady: clear".
func standingsIn(all []judged) []judged {
	var sets []judged
	for _, one := range all {
		at := slices.IndexFunc(sets, func(set judged) bool { return set.GetStanding() == one.GetStanding() })
		if at < 0 {
			sets = append(sets, judged{one.Where, &pb.Assessment{Standing: one.GetStanding()}})
			continue
		}
		sets[at].Where += "\n" + one.Where
	}
	for i := range sets {
		sets[i].Where = phrase.List(strings.Split(sets[i].Where, "\n"))
	}
	return sets
}
