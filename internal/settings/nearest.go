package settings

import "github.com/agnivade/levenshtein"

// nearest finds the word most like s: the one with the fewest single-letter changes, up to half its length and at
// most three; "" when none is that near. The count is the Levenshtein distance (V. I. Levenshtein, Soviet Physics
// Doklady 10, 1966).
func nearest(s string, words []string) string {
	best, least := "", 4
	for _, word := range words {
		if d := levenshtein.ComputeDistance(s, word); d < least && 2*d <= len(word) {
			best, least = word, d
		}
	}
	return best
}
