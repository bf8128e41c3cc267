package roster

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gritward/internal/fault"
	"gritward/internal/names"
	"gritward/internal/placement"
	pb "gritward/proto/gritward/v1"
)

// Explain says why a member rides where the member does when everybody is placed now, what each other group would take, and
// what would change it. What would is tried by placing everybody anew. Of others it tells neither names nor bikes.
// NOT_FOUND when the member is not signed up.
func Explain(ctx context.Context, in Input, member string) (*pb.Explanation, error) {
	s := newSeating(in)
	id := riderID(member)
	if _, signed := s.entrants[id]; !signed {
		return nil, fault.New(pb.Reason_NOT_FOUND, "there is no sign-up of %s for this ride", names.Last(member))
	}
	if err := s.sizes(); err != nil {
		return nil, err
	}
	result, err := s.solve(ctx)
	if err != nil {
		return nil, err
	}
	e := &explainer{teller: teller{seating: s, viewer: id}, ctx: ctx, result: result, id: id, rides: ridesIn(result)}
	said := &pb.Explanation{Name: in.Ride.Name + "/signups/" + names.Last(member), DisplayName: s.name(id),
		Group: e.rides[id], Title: s.titles[e.rides[id]], Issue: in.Previous.GetNumber()}
	if rode := s.previous[id]; rode != "" {
		said.IssueTitle = title(s.titles, rode)
	}
	if !slices.Contains(s.order, id) {
		said.Why = "Waits for a place: all were taken at sign-up."
		if why := barred(s.entrants[id]); why != "" {
			said.Why = why
		}
		return said, nil
	}
	if err := e.options(said); err != nil {
		return nil, err
	}
	said.Why = e.why(said)
	return said, nil
}

// explainer explains the place of one rider.
type explainer struct {
	teller
	ctx    context.Context
	result placement.Result
	id     string
	rides  map[string]string
	both   int // ways tried by mendAnd
}

// options fills in the groups.
func (e *explainer) options(said *pb.Explanation) error {
	options, err := placement.Options(e.ctx, e.asked, e.result.Objective, e.id)
	if err != nil {
		return err
	}
	byGroup := map[string]placement.Option{}
	for _, option := range options {
		byGroup[option.Group] = option
	}
	for _, plan := range e.in.Plan.Groups {
		one := e.option(plan, byGroup[plan.Group])
		if err := e.remedies(one, plan, byGroup[plan.Group]); err != nil {
			return err
		}
		said.Options = append(said.Options, one)
		for _, group := range e.result.Groups {
			if group.ID == plan.Group && !group.Runs {
				idle, err := e.idle(e.ctx, plan, group)
				if err != nil {
					return err
				}
				idle.Why = e.discreet(idle.Why, group)
				said.Idle = append(said.Idle, idle)
			}
		}
	}
	return nil
}

// discreet keeps the names of others out of why a group does not run.
func (e *explainer) discreet(why string, group placement.GroupResult) string {
	if marked().MatchString(group.WhyNot) {
		return "somebody named for a role in it cannot ride there"
	}
	return why
}

// option tells of one group.
func (e *explainer) option(plan *pb.GroupPlan, option placement.Option) *pb.GroupOption {
	one := &pb.GroupOption{
		Group: plan.Group, Title: plan.Title, Standing: e.standing(e.id, plan.Group),
		PaceOffKmh: e.paceOff(e.id, plan.PaceKmh),
	}
	one.Binding = e.all(slices.DeleteFunc(slices.Clone(option.Binding), func(c placement.Constraint) bool {
		return c.Kind == placement.HeldIn && c.Rider == e.id && c.Group == plan.Group // the verdict says it
	}))
	if option.Possible && option.Proven && e.result.Proven {
		one.Cost = costOf(e.result.Objective, option.Objective)
	}
	for _, limit := range option.Limits {
		one.Binding = append(one.Binding, e.words(limit))
	}
	one.Verdict, one.Words = e.verdict(one, option)
	return one
}

// costOf is what the placement would lose.
func costOf(best, there placement.Objective) *pb.PlacementCost {
	return &pb.PlacementCost{
		Unplaced: int32(best.Placed - there.Placed), Discomfort: int32(there.Discomfort - best.Discomfort),
		Wishes: int32(best.PreferencesMet - there.PreferencesMet), Moves: int32(there.Moves - best.Moves),
	}
}

// verdict tells in short what a group would take.
func (e *explainer) verdict(one *pb.GroupOption, option placement.Option) (pb.GroupOption_Verdict, string) {
	switch {
	case e.rides[e.id] == one.Group:
		return pb.GroupOption_HERE, "rides here" + atBack(one.Standing)
	case one.Standing == pb.Standing_HELD:
		return pb.GroupOption_RULED_OUT, "held: " + holdWords(e.assessment(e.id, one.Group))
	case !option.Possible && option.Proven:
		return pb.GroupOption_RULED_OUT, e.ruledOut(option.Binding)
	}
	words := paceWords(one.PaceOffKmh)
	if one.Cost == nil {
		if words == "" {
			words = unsure(e.result.Objective, option)
		}
		return pb.GroupOption_WORSE, words
	}
	full := ""
	for _, limit := range option.Limits {
		switch limit.Kind {
		case placement.AtMost:
			full = fmt.Sprintf("full: all %d places are taken", e.groupOf(one.Group).MaxSize)
		case placement.BackPlacesOf:
			if full == "" {
				full = fmt.Sprintf("at the back only, and all %d back places are taken", e.groupOf(one.Group).BackPlaces)
			}
		}
	}
	switch {
	case full != "":
		return pb.GroupOption_FULL, full
	case option.Objective == e.result.Objective:
		return pb.GroupOption_TIED, "just as good; the fixed order of groups decided"
	case words == "" || one.Cost.Unplaced > 0:
		words = lossWords(one.Cost)
	}
	return pb.GroupOption_WORSE, words
}

// noWay is told where what stands in the way would take too long to find.
const noWay = "the rules leave no way"

// ruledOut tells the first of what stands in the way.
func (e *explainer) ruledOut(binding []placement.Constraint) string {
	if len(binding) == 0 {
		return noWay
	}
	return e.phrase(binding[0])
}

func atBack(standing pb.Standing) string {
	if standing == pb.Standing_BACK {
		return ", at the back"
	}
	return ""
}

// paceWords tells how a pace suits; "" where it does.
func paceWords(offKmh float64) string {
	switch {
	case offKmh > 0:
		return fmt.Sprintf("too fast by %.1f km/h", offKmh)
	case offKmh < 0:
		return fmt.Sprintf("too slow by %.1f km/h", math.Abs(offKmh))
	}
	return ""
}

// lossWords tells the first objective by which a placement is worse.
func lossWords(cost *pb.PlacementCost) string {
	switch {
	case cost.Unplaced > 0:
		return countOf(int(cost.Unplaced), "rider", "riders") + " fewer would have a place"
	case cost.Discomfort > 0:
		return "the paces would suit the riders worse as a whole"
	case cost.Wishes > 0:
		return countOf(int(cost.Wishes), "wish", "wishes") + " fewer would be met"
	}
	return countOf(int(cost.Moves), "rider", "riders") + " more would move from the last issue"
}

// why says in one sentence why the rider rides where the rider does.
func (e *explainer) why(said *pb.Explanation) string {
	if said.Group == "" {
		return "Has no place in any group: see what stands in the way of each."
	}
	wish := e.entrants[e.id].Signup.PreferredGroup
	var here *pb.GroupOption
	wished := ""
	for _, one := range said.Options {
		switch one.Group {
		case said.Group:
			here = one
		case wish:
			wished = fmt.Sprintf(" %s was wished for (%s).", one.Title, one.Words)
		}
	}
	switch {
	case e.pin(e.id) != nil:
		return fmt.Sprintf("The leader fixed it: %s.", stop(e.pin(e.id).Reason))
	case wish == said.Group:
		return fmt.Sprintf("%s was wished for%s.", said.Title, suits(here.PaceOffKmh))
	}
	if !e.paceKnown(e.id) {
		return capital(pacelessWords(e.result.Proven)) + "." + wished
	}
	return capital(bestWords(here.PaceOffKmh, e.result.Proven)) + "." + wished
}

func suits(offKmh float64) string {
	if words := paceWords(offKmh); words != "" {
		return ", though it is " + words
	}
	return ", and its pace suits"
}

// pacelessWords tell a rider of whom no pace is known that none was looked at.
func pacelessWords(proven bool) string {
	const none = "no pace is stated, so that any counts as one that suits"
	if !proven {
		return none + "; whether another placement serves all riders better is not known"
	}
	return none + ", and all riders are served best so"
}

func bestWords(offKmh float64, proven bool) string {
	words := paceWords(offKmh)
	switch {
	case words == "" && !proven:
		return "its pace suits; whether another placement serves all riders better is not known"
	case !proven:
		return "of the placements that were found this one serves all riders best, though the pace is " + words
	case words != "":
		return "of the groups open to the rider this one serves all riders best, though it is " + words
	}
	return "its pace suits, and all riders are served best so"
}
