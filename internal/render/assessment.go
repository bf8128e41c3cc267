package render

import (
	"fmt"
	"io"
	"strings"

	pb "gritward/proto/gritward/v1"
)

// Titles are the names for people of what an assessment names: bikes by resource name, groups by id. One that is missing
// is told by the last part of its name.
type Titles struct {
	Bikes, Groups map[string]string
}

// AssessmentText writes the standing of bikes in groups with what each rule needs, what was declared, and what to do,
// worst first. What is the same in all is told once, at the end: which rules did not apply, declaration and policy.
// opt.Part is not used. The error is the writer's.
func AssessmentText(w io.Writer, assessments []*pb.Assessment, titles Titles, opt TextOptions) error {
	t := newPage(opt)
	clean := make([]*pb.Assessment, len(assessments))
	for i, a := range assessments {
		if i > 0 {
			t.gap()
		}
		clean[i] = cleaned(a)
		t.assessment(clean[i], titles)
	}
	if len(assessments) == 0 {
		t.line("Nothing was assessed.")
	}
	t.shared(clean, titles)
	return t.writeTo(w)
}

// assessed names the bike and the group of an assessment.
func (titles Titles) assessed(a *pb.Assessment) string {
	name := titles.bike(a)
	if a.GetGroup() != "" {
		name += " in " + titles.group(a)
	}
	return name
}

func (titles Titles) bike(a *pb.Assessment) string {
	return Clean(firstOf(titles.Bikes[a.GetBike()], last(a.GetBike()), "Bike without a name"))
}

func (titles Titles) group(a *pb.Assessment) string {
	return Clean(firstOf(titles.Groups[a.GetGroup()], a.GetGroup()))
}

func (t *page) assessment(a *pb.Assessment, titles Titles) {
	st := strong
	if a.GetStanding() >= pb.Standing_BACK {
		st = alarm
	}
	t.wrapped("", "", titles.assessed(a)+": "+standingWord(a.GetStanding())+", "+standingMeans(a.GetStanding()), st)
	for _, f := range worstFirst(a.GetFindings()) {
		t.finding(f)
	}
	var met []string
	for _, f := range a.GetFindings() {
		if f.GetStanding() == pb.Standing_CLEAR {
			met = append(met, firstOf(f.GetRule(), about(f)))
		}
	}
	if len(met) > 0 {
		t.para(2, "Met: "+strings.Join(met, ", "))
	}
}

func standingMeans(s pb.Standing) string {
	switch s {
	case pb.Standing_CLEAR:
		return "every rule is met"
	case pb.Standing_ADVISED:
		return "rides anywhere in the group"
	case pb.Standing_BACK:
		return "rides at the back of the group"
	case pb.Standing_HELD:
		return "does not start until put right"
	}
	return "ask for an assessment"
}

func (t *page) finding(f *pb.Finding) {
	head := standingWord(f.GetStanding()) + "  " + firstOf(f.GetRule(), about(f))
	if line := f.GetPolicyLine(); line > 0 {
		head += fmt.Sprintf(" (policy line %d)", line)
	}
	t.para(2, head)
	t.para(6, "needed    "+firstOf(f.GetNeeded(), "not told"))
	t.para(6, "declared  "+declared(f))
	if f.GetRemedy() != "" {
		t.para(6, "remedy    "+f.GetRemedy())
	}
	if f.GetBecause() != "" {
		t.para(6, "because   "+f.GetBecause())
	}
}
