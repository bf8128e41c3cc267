package render

import (
	"strings"

	pb "gritward/proto/gritward/v1"
)

// standingWord is a standing in one word.
func standingWord(s pb.Standing) string {
	switch s {
	case pb.Standing_CLEAR:
		return "clear"
	case pb.Standing_ADVISED:
		return "advice"
	case pb.Standing_BACK:
		return "back"
	case pb.Standing_HELD:
		return "held"
	}
	return "not assessed"
}

// standingShape is the shape that goes with the word: each is told from the others without colour.
func standingShape(s pb.Standing) string {
	switch s {
	case pb.Standing_CLEAR:
		return "○"
	case pb.Standing_ADVISED:
		return "△"
	case pb.Standing_BACK:
		return "▼"
	case pb.Standing_HELD:
		return "■"
	}
	return "?"
}

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

// about is what a finding is about: its check, or the rule where the check does not tell.
func about(f *pb.Finding) string {
	return firstOf(checkWord(f.GetCheck()), f.GetRule(), "a rule")
}

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

// reasons are the subjects of the findings not met, each once: "guards, chain".
func reasons(fs []*pb.Finding) string {
	var out []string
	seen := map[string]bool{}
	for _, f := range unmet(fs) {
		if word := about(f); !seen[word] {
			seen[word] = true
			out = append(out, word)
		}
	}
	return strings.Join(out, ", ")
}

// declared is what was declared, in words.
func declared(f *pb.Finding) string {
	if f.GetNotDeclared() {
		return "not declared"
	}
	return firstOf(f.GetDeclared(), "not told")
}
