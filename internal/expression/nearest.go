package expression

import (
	"strings"

	"github.com/agnivade/levenshtein"
)

// didYouMean proposes the nearest of the words, or all of them where none is near.
func didYouMean(wrong string, words []string) string {
	if near := nearest(wrong, words); near != "" {
		return "did you mean " + near + "?"
	}
	return "known here: " + strings.Join(words, ", ")
}

// nearest finds the word with the least edits, or the only one that begins with what was written: runtime for
// runtime_min. Empty when none is near.
func nearest(wrong string, words []string) string {
	best, least, begins := "", max(1, (len(wrong)+1)/3)+1, ""
	for _, candidate := range words {
		if n := levenshtein.ComputeDistance(strings.ToLower(wrong), strings.ToLower(candidate)); n < least {
			best, least = candidate, n
		}
		if len(wrong) > 2 && strings.HasPrefix(candidate, wrong) && begins == "" {
			begins = candidate
		}
	}
	if begins != "" {
		return begins
	}
	return best
}
