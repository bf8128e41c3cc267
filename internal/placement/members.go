package placement

// members is a set of small numbers, a bit for each.
type members []uint64

func newMembers(most int, list []int) members {
	m := make(members, (most+63)/64)
	for _, i := range list {
		m[i/64] |= 1 << (i % 64)
	}
	return m
}

// within reports whether all of a set are in another, of the same most.
func (m members) within(other members) bool {
	for i := range m {
		if m[i]&^other[i] != 0 {
			return false
		}
	}
	return true
}
