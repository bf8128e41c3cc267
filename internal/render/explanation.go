package render

import (
	"io"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// ExplanationText writes why a rider rides where the rider does, what each other group would take, and what would change
// it. The error is the writer's.
func ExplanationText(w io.Writer, explanation *pb.Explanation, opt TextOptions) error {
	t := newPage(opt)
	e := cleaned(explanation)
	where := "has no place"
	if e.GetTitle() != "" {
		where = "rides in " + e.GetTitle()
	}
	t.bold(phrase.FirstOf(e.GetDisplayName(), "Somebody") + " " + where)
	if e.GetWhy() != "" {
		t.line(e.GetWhy())
	}
	switch {
	case e.GetIssue() == 0:
		t.line("No roster is published yet: this is how riders would be placed now.")
	case e.GetIssueTitle() != e.GetTitle():
		t.warn("Issue " + phrase.Number(float64(e.GetIssue()), 0) + ", the newest, says otherwise: " + phrase.FirstOf(e.GetIssueTitle(), "no place") +
			". Things have changed since; the leader publishes the next.")
	}
	for _, option := range e.GetOptions() {
		t.option(option)
		for _, idle := range e.GetIdle() {
			if idle.GetGroup() == option.GetGroup() {
				_, words := idleWords(idle)
				t.para(2, "Does not run: "+words)
			}
		}
	}
	return t.writeTo(w)
}

// option tells of one group.
func (t *page) option(o *pb.GroupOption) {
	t.gap()
	t.line(phrase.FirstOf(o.GetTitle(), o.GetGroup(), "Group without a title") + ": " + o.GetWords())
	if len(o.GetBinding()) > 1 { // one alone stands in the words
		for _, binding := range o.GetBinding() {
			t.para(2, "In the way: "+binding)
		}
	}
	apart := o.GetVerdict() != pb.GroupOption_HERE && o.GetVerdict() != pb.GroupOption_TIED
	if loss := lossWords(o.GetCost()); apart && loss != "" {
		t.para(2, "With the rider there: "+loss+".")
	}
	for _, remedy := range o.GetRemedies() {
		t.para(2, "Would change it: "+remedy.GetWords())
	}
}

// lossWords tells the first objective by which one placement differs from another, as they are compared; "" for none.
func lossWords(cost *pb.PlacementCost) string {
	type part struct {
		by              int32
		one, many, what string
		more, fewer     string
	}
	parts := []part{{cost.GetUnplaced(), "rider", "riders", "without a place", " more", " fewer"}}
	switch discomfort := cost.GetDiscomfort(); {
	case cost.GetUnplaced() != 0 || discomfort == 0:
	case discomfort > 0:
		return "the paces would suit the riders worse as a whole"
	default:
		return "the paces would suit the riders better as a whole"
	}
	parts = append(parts, []part{
		{cost.GetWishes(), "wish", "wishes", "met", " fewer", " more"},
		{cost.GetMoves(), "rider", "riders", "moved from the last issue", " more", " fewer"},
	}...)
	for _, part := range parts {
		switch {
		case part.by > 0:
			return phrase.Counted(int(part.by), part.one, part.many) + part.more + " " + part.what
		case part.by < 0:
			return phrase.Counted(-int(part.by), part.one, part.many) + part.fewer + " " + part.what
		}
	}
	return ""
}
