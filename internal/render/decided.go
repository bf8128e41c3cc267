package render

import (
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// fixedWords tells what the leader has fixed: whose place or which group, and how with its reason. alarm says that it does
// not hold.
func (s *sheet) fixedWords(f *pb.Fixed) (name, words string, alarm bool) {
	title := phrase.FirstOf(f.GetTitle(), f.GetGroup(), "a group without a title")
	name, words = title, "runs"
	wanted := "was to run"
	switch {
	case f.GetMember() != "" || f.GetDisplayName() != "":
		name, words, wanted = phrase.FirstOf(f.GetDisplayName(), s.person(f.GetMember())), "rides in "+title, "was to ride in "+title
	case !f.GetRuns():
		words, wanted = "does not run", "was not to run"
	}
	if !f.GetHolds() {
		words = wanted + "; that does not hold. " + phrase.FirstOf(f.GetWhy(), "No reason is known.")
	}
	words = strings.TrimRight(words, ".") + ". Reason: " + phrase.FirstOf(f.GetReason(), "none told")
	if by := s.person(f.GetBy()); by != "" {
		words += " (" + by + ")"
	}
	return name, words, !f.GetHolds()
}

// overrideWords tells what was set aside: for whom, and what and why.
func (s *sheet) overrideWords(o *pb.Override) (name, words string) {
	what := phrase.FirstOf(o.GetWhat(), "rule "+phrase.FirstOf(o.GetRule(), "without a name"))
	words = what + " set aside: " + phrase.FirstOf(o.GetReason(), "no reason told")
	if by := s.person(o.GetBy()); by != "" {
		words += " (" + by + ")"
	}
	return phrase.FirstOf(s.person(o.GetMember()), s.groupName(o.GetGroup()), "somebody"), words
}

// groupName is the title of a group, by its id.
func (s *sheet) groupName(id string) string {
	for _, p := range s.GetPlan().GetGroups() {
		if p.GetGroup() == id {
			return planTitle(p)
		}
	}
	return id
}

// conflicts are those that the findings of riders without a place do not tell already.
func (s *sheet) conflicts() []*pb.Conflict {
	var list []*pb.Conflict
	for _, c := range s.GetPlacement().GetConflicts() {
		if !c.GetHeldOnly() {
			list = append(list, c)
		}
	}
	return list
}

// untoldWords tells that not all conflicts were sought; "" where they were.
func (s *sheet) untoldWords() string {
	count := s.GetPlacement().GetConflictsUntold()
	if count == 0 {
		return ""
	}
	return "For " + phrase.Counted(int(count), "rider", "riders") + " without a place it would have taken too long to find what cannot hold together."
}

// conflictWords tells constraints that cannot hold together, and for whom else they are in the way.
func conflictWords(c *pb.Conflict) (head string, constraints []string) {
	head = "These cannot all hold; without any one of them the rest can"
	if c.GetSmallest() {
		head = "These cannot all hold, and no fewer are to blame"
	}
	if also := c.GetLikewise(); len(also) > 0 {
		head += " (the same for " + strings.Join(also, ", ") + ")"
	}
	return head + ":", c.GetConstraints()
}

// idleWords tells why a group does not run, and who would let it.
func idleWords(g *pb.IdleGroup) (title, words string) {
	words = phrase.FirstOf(g.GetWhy(), "no reason told")
	if more := g.GetLetsRun(); more != "" {
		words = strings.TrimRight(words, ".") + ". " + more
	}
	return phrase.FirstOf(g.GetTitle(), g.GetGroup(), "Group without a title"), words
}
