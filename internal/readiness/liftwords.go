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
	var all []string
	silent := false
	for _, i := range set {
		b := l.broken[i]
		var own []string
		for _, s := range b.verdict.todo {
			if s.aside {
				continue
			}
			if own = append(own, s.text); !slices.Contains(all, s.text) {
				all = append(all, s.text)
			}
		}
		silent = silent || b.verdict.notDeclared
		way.Steps = append(way.Steps, &pb.LiftStep{Rule: b.rule.GetId(), Remedy: strings.Join(own, " ")})
	}
	way.Words = oneSentence(all) + l.then(target, silent)
	return way
}

// oneSentence joins sentences: "Fit a flap to the rear guard; carry 1 rear lamp".
func oneSentence(sentences []string) string {
	var b strings.Builder
	for i, text := range sentences {
		text = strings.TrimSuffix(text, ".")
		if i > 0 {
			first, size := utf8.DecodeRuneInString(text)
			text = string(unicode.ToLower(first)) + text[size:]
			b.WriteString("; ")
		}
		b.WriteString(text)
	}
	return b.String()
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
		return text + "you ride anywhere" + in + "."
	case pb.Standing_ADVISED:
		return text + "you ride anywhere" + in + ", with advice."
	default:
		return text + "you ride at the back" + in + "."
	}
}
