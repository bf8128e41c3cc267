package readiness

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	pb "gritward/proto/gritward/v1"
)

// way puts a set of broken rules into words.
func (l *lifting) way(set []int, target pb.Standing) *pb.LiftWay {
	way := &pb.LiftWay{Reaches: target}
	var steps []asked
	silent := false
	for _, i := range set {
		b := l.broken[i]
		todo := slices.DeleteFunc(slices.Clone(b.verdict.todo), func(s sentence) bool { return s.aside })
		steps = append(steps, asked{b.rule.GetId(), b.rule.form.cost, todo})
		silent = silent || b.verdict.notDeclared
	}
	settle(steps)
	var all, facts []string
	for _, step := range steps {
		way.Steps = append(way.Steps, &pb.LiftStep{Rule: step.rule, Remedy: remedy(step.todo)})
		for _, s := range step.todo {
			switch {
			case s.aside:
			case s.declare != "":
				facts = addNew(facts, s.declare)
			default:
				all = addNew(all, s.text)
			}
		}
	}
	if len(facts) > 0 {
		all = append(all, declaring(facts))
	}
	way.Words = oneSentence(all) + l.then(target, silent)
	return way
}

// addNew adds what is not there yet.
func addNew(to []string, text string) []string {
	if slices.Contains(to, text) {
		return to
	}
	return append(to, text)
}

// oneSentence joins sentences: "Fit a flap to the rear guard; carry 1 rear lamp".
func oneSentence(sentences []string) string {
	var b strings.Builder
	for i, text := range sentences {
		if i == 0 {
			b.WriteString(strings.TrimSuffix(text, "."))
			continue
		}
		b.WriteString("; " + within(text))
	}
	return b.String()
}

// within is a sentence as a part of another: without its stop and its capital.
func within(text string) string {
	text = strings.TrimSuffix(text, ".")
	first, size := utf8.DecodeRuneInString(text)
	return string(unicode.ToLower(first)) + text[size:]
}

// then says what comes of it.
func (l *lifting) then(target pb.Standing, silent bool) string {
	text := ", and "
	if silent {
		text += "if all is as the rules ask "
	}
	group := l.c.group.GetTitle()
	if group == "" {
		group = l.c.group.GetGroup()
	}
	in := " in " + group
	if group == "" {
		in = ""
	}
	switch target {
	case pb.Standing_CLEAR:
		return text + "the bike rides anywhere" + in + "."
	case pb.Standing_ADVISED:
		return text + "the bike rides anywhere" + in + ", with advice."
	default:
		return text + "the bike rides at the back" + in + "."
	}
}
