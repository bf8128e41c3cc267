package rollcall

import (
	"cmp"
	"slices"

	pb "gritward/proto/gritward/v1"
)

// compare is the one order of marks: by their time, then by device, then by name. No two marks of a ride are equal in it,
// since a name is given once.
func compare(a, b *pb.Mark) int {
	return cmp.Or(
		a.GetAt().AsTime().Compare(b.GetAt().AsTime()),
		cmp.Compare(a.GetDevice(), b.GetDevice()),
		cmp.Compare(a.GetName(), b.GetName()),
	)
}

// merge sorts marks by rider, each rider's in order. A mark that is there twice counts once.
func merge(marks []*pb.Mark) map[string][]*pb.Mark {
	seen, riders := map[string]bool{}, map[string][]*pb.Mark{}
	for _, mark := range marks {
		if !seen[mark.GetName()] {
			seen[mark.GetName()] = true
			riders[mark.GetMember()] = append(riders[mark.GetMember()], mark)
		}
	}
	for _, rider := range riders {
		slices.SortFunc(rider, compare)
	}
	return riders
}
