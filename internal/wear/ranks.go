package wear

// rankFrom gives k, the number of slopes to leave out at each end of the sorted slopes between n readings, so that what
// lies between holds the true slope with at least the probability asked for. Readings whose errors are alike and
// independent are ordered by their errors in each of n! ways alike, so the number of slopes below the true one is
// spread as the inversions of a permutation (Kendall's tau; Sen 1968). -1: not even all slopes hold it so surely.
func rankFrom(n int, probability float64) int {
	left := (1 - probability) / 2
	k := -1
	for inversions, share := range inversionShares(n) {
		if left -= share; left < 0 {
			break
		}
		k = inversions
	}
	return k
}

// inversionShares gives the share of the permutations of n things that have 0, 1, 2, … inversions.
func inversionShares(n int) []float64 {
	shares := []float64{1}
	for things := 2; things <= n; things++ {
		next := make([]float64, len(shares)+things-1)
		for inversions, share := range shares {
			for more := range things {
				next[inversions+more] += share / float64(things)
			}
		}
		shares = next
	}
	return shares
}
