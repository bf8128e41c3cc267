package strictyaml

import "strings"

// didYouMean proposes the nearest of the words, where one is near, and lists them all where they are few.
func didYouMean(word string, words []string) string {
	list := "known here: " + strings.Join(words, ", ")
	near := nearest(word, words)
	switch {
	case near == "":
		return list
	case len(words) > 15:
		return "did you mean " + near + "?"
	default:
		return "did you mean " + near + "? " + list
	}
}

// nearest finds the word with the least edits; empty when even that is not near: more than a third of its letters, and
// more than one.
func nearest(word string, words []string) string {
	best, least := "", max(1, (len(word)+1)/3)
	if len(word) > 40 {
		return ""
	}
	flat := strings.NewReplacer("-", "_", " ", "_").Replace(strings.ToLower(word))
	for _, candidate := range words {
		n := edits(flat, strings.ReplaceAll(candidate, "-", "_"))
		if n < least || n == least && best == "" {
			best, least = candidate, n
		}
	}
	return best
}

// edits counts the letters to insert, delete, replace or swap with their neighbour to turn a into b: the optimal string
// alignment distance.
func edits(a, b string) int {
	from, to := []rune(a), []rune(b)
	before, last, row := make([]int, len(to)+1), make([]int, len(to)+1), make([]int, len(to)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(from); i++ {
		row[0] = i
		for j := 1; j <= len(to); j++ {
			cost := 1
			if from[i-1] == to[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && from[i-1] == to[j-2] && from[i-2] == to[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(to)]
}
