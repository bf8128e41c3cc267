package render

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	"gritward/internal/phrase"
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
		clean[i] = cleaned(a)
	}
	for i, as := range alike(clean) {
		if i > 0 {
			t.gap()
		}
		t.assessment(as, titles, opt.Brief)
	}
	if len(assessments) == 0 {
		t.line("Nothing was assessed.")
	}
	t.shared(clean, titles)
	return t.writeTo(w)
}

// alike puts assessments together that say the same of one bike in several groups.
func alike(as []*pb.Assessment) [][]*pb.Assessment {
	var sets [][]*pb.Assessment
	for _, a := range as {
		i := slices.IndexFunc(sets, func(set []*pb.Assessment) bool {
			b := set[0]
			return a.GetBike() == b.GetBike() && a.GetGroup() != "" && b.GetGroup() != "" && a.GetStanding() == b.GetStanding() &&
				slices.EqualFunc(a.GetFindings(), b.GetFindings(), func(a, b *pb.Finding) bool { return proto.Equal(a, b) })
		})
		if i < 0 {
			sets = append(sets, []*pb.Assessment{a})
			continue
		}
		sets[i] = append(sets[i], a)
	}
	return sets
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
	return Clean(phrase.FirstOf(titles.Bikes[a.GetBike()], last(a.GetBike()), "Bike without a name"))
}

func (titles Titles) group(a *pb.Assessment) string {
	return Clean(phrase.FirstOf(titles.Groups[a.GetGroup()], a.GetGroup()))
}

// assessment tells one assessment, or several that say the same.
func (t *page) assessment(as []*pb.Assessment, titles Titles, brief bool) {
	a, st, name := as[0], strong, titles.assessed(as[0])
	for _, other := range as[1:] {
		name += ", " + titles.group(other)
	}
	if a.GetStanding() >= pb.Standing_BACK {
		st = alarm
	}
	t.wrapped("", "", name+": "+phrase.Standing(a.GetStanding())+", "+standingMeans(a.GetStanding()), st)
	var silent []*pb.Finding
	for _, f := range worstFirst(a.GetFindings()) {
		if f.GetDeclared() == notDeclared {
			silent = append(silent, f)
			continue
		}
		if brief && f.GetStanding() == pb.Standing_ADVISED {
			t.para(2, "advice  "+byRule(f)+": "+phrase.FirstOf(f.GetRemedy(), f.GetNeeded(), "not told"))
			continue
		}
		t.finding(f)
	}
	t.silent(silent)
	if !brief {
		t.met(a)
	}
}

// met names the rules that are met, and those that there is nothing on the bike to judge by.
func (t *page) met(a *pb.Assessment) {
	var met, moot []string
	for _, f := range a.GetFindings() {
		switch {
		case f.GetStanding() != pb.Standing_CLEAR:
		case absent(f.GetDeclared()):
			moot = append(moot, byRule(f))
		default:
			met = append(met, byRule(f))
		}
	}
	if len(met) > 0 {
		t.para(2, "Met: "+strings.Join(met, ", "))
	}
	if len(moot) > 0 {
		t.para(2, "Nothing on the bike to judge: "+strings.Join(moot, ", "))
	}
}

// absent tells whether all that was declared for a rule is that there are no such things: "front: no guard; rear: no guard".
func absent(declared string) bool {
	for part := range strings.SplitSeq(declared, "; ") {
		part = strings.TrimPrefix(strings.TrimPrefix(part, "front: "), "rear: ")
		if part != "no guard" && part != "no front lamp" && part != "no rear lamp" {
			return false
		}
	}
	return true
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

// silent tells in one list of the rules for which nothing was declared: what to do is the same for all.
func (t *page) silent(fs []*pb.Finding) {
	if len(fs) == 0 {
		return
	}
	t.para(2, "Nothing declared for these rules, so they are not met; say in the bike file what is true of the bike:")
	for from := 0; from < len(fs); {
		to := from
		var rules []string
		for ; to < len(fs) && fs[to].GetStanding() == fs[from].GetStanding(); to++ {
			rules = append(rules, byRule(fs[to]))
		}
		t.ids("    "+phrase.Standing(fs[from].GetStanding())+"  ", rules)
		from = to
	}
}

// ids lists ids after a lead, none of them broken at its hyphens.
func (t *page) ids(lead string, ids []string) {
	line := lead
	for i, id := range ids {
		if i < len(ids)-1 {
			id += ","
		}
		if len(line) > len(lead) && len(line)+1+len(id) > t.width {
			t.raw(line, plain)
			line = strings.Repeat(" ", len(lead))
		}
		if len(line) > len(lead) {
			line += " "
		}
		line += id
	}
	t.raw(line, plain)
}

// finding tells one rule that is not met. Advice is told in fewer words.
func (t *page) finding(f *pb.Finding) {
	head := phrase.Standing(f.GetStanding()) + "  " + byRule(f)
	if line := f.GetPolicyLine(); line > 0 {
		head += fmt.Sprintf(" (policy line %d)", line)
	}
	t.para(2, head)
	t.para(6, "needed    "+phrase.FirstOf(f.GetNeeded(), "not told"))
	t.para(6, "declared  "+declared(f))
	if f.GetRemedy() != "" {
		t.para(6, "remedy    "+f.GetRemedy())
	}
	if f.GetBecause() != "" && f.GetStanding() > pb.Standing_ADVISED {
		t.para(6, "because   "+f.GetBecause())
	}
}
