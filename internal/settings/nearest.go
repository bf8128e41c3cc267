package settings

// nearest finds the word most like s: the one with the fewest single-letter changes, up to half its length and at
// most three; "" when none is that near. The count is the Levenshtein distance (V. I. Levenshtein, Soviet Physics
// Doklady 10, 1966).
func nearest(s string, words []string) string {
	best, least := "", 4
	for _, word := range words {
		if d := distance(s, word); d < least && 2*d <= len(word) {
			best, least = word, d
		}
	}
	return best
}

func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost = 1 + min(diagonal, row[j], row[j+1])
			}
			diagonal, row[j+1] = row[j+1], cost
		}
	}
	return row[len(b)]
}
