package render

import (
	"slices"
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// checkWord is what a rule looks at.
func checkWord(c pb.Check) string {
	switch c {
	case pb.Check_CONTACT:
		return "bar, saddle, pedals"
	case pb.Check_CARRY:
		return "kit"
	case pb.Check_CLEAN:
		return "washing"
	case pb.Check_DECLARATION:
		return "declaration"
	case pb.Check_EXPRESSION, pb.Check_CHECK_UNSPECIFIED:
		return ""
	}
	return strings.ToLower(c.String())
}

// about names a finding by its rule; by its check where the rule is not known.
func about(f *pb.Finding) string {
	return phrase.FirstOf(phrase.Rule(f.GetRule()), checkWord(f.GetCheck()), "a rule")
}

// byRule names a finding as about does, but by its rule as the policy file writes it.
func byRule(f *pb.Finding) string { return phrase.FirstOf(f.GetRule(), about(f)) }

// unmet are the findings that are not met.
func unmet(fs []*pb.Finding) []*pb.Finding {
	var out []*pb.Finding
	for _, f := range fs {
		if f != nil && f.GetStanding() != pb.Standing_CLEAR {
			out = append(out, f)
		}
	}
	return out
}

// worstFirst are the findings not met, the worst first, else in their order.
func worstFirst(fs []*pb.Finding) []*pb.Finding {
	out := unmet(fs)
	slices.SortStableFunc(out, func(a, b *pb.Finding) int { return int(b.GetStanding()) - int(a.GetStanding()) })
	return out
}

// standingReasons are a standing and what it comes from, then what else is not met: "back: guards; advice: lights".
func standingReasons(st pb.Standing, fs []*pb.Finding) string {
	words, of, seen := phrase.Standing(st), st, map[string]bool{}
	first := true
	for _, f := range worstFirst(fs) {
		if f.GetStanding() != of {
			of, first = f.GetStanding(), true
			words += "; " + phrase.Standing(of)
		}
		if key := phrase.Standing(of) + about(f); !seen[key] {
			seen[key] = true
			words += map[bool]string{true: ": ", false: ", "}[first] + about(f)
			first = false
		}
	}
	return words
}

// notDeclared stands where nothing was declared.
const notDeclared = "not declared"

// declared is what was declared, in words.
func declared(f *pb.Finding) string {
	if f.GetNotDeclared() {
		return phrase.FirstOf(f.GetDeclared(), notDeclared)
	}
	return phrase.FirstOf(f.GetDeclared(), "not told")
}
