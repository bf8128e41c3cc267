package rollcall

import (
	"cmp"
	"slices"
	"strings"
	"time"

	pb "gritward/proto/gritward/v1"
)

// At is when a mark was made: by the server's clock, where the server has reckoned that.
func At(mark *pb.Mark) time.Time {
	if mark.CorrectedAt != nil {
		return mark.GetCorrectedAt().AsTime()
	}
	return mark.GetAt().AsTime()
}

// compare is the one order of marks: by their time, then by device, then by name. No two marks of a ride are equal in it,
// since a name is given once. When they came to the server plays no part.
func compare(a, b *pb.Mark) int {
	return cmp.Or(At(a).Compare(At(b)), cmp.Compare(a.GetDevice(), b.GetDevice()), cmp.Compare(a.GetName(), b.GetName()))
}

// lastPart is the last part of a name.
func lastPart(name string) string { return name[strings.LastIndexByte(name, '/')+1:] }

// Counting gives the marks that count, in order: each once, without those that are struck and those that strike.
func Counting(marks []*pb.Mark) []*pb.Mark {
	struck := map[string]bool{}
	for _, mark := range marks {
		if mark.GetWhat() == pb.Mark_STRIKE {
			struck[mark.GetMember()+" "+mark.GetStrikes()] = true
		}
	}
	seen := map[string]bool{}
	var counting []*pb.Mark
	for _, mark := range marks {
		id := lastPart(mark.GetName())
		if mark.GetWhat() == pb.Mark_STRIKE || seen[id] || struck[mark.GetMember()+" "+id] {
			continue
		}
		seen[id] = true
		counting = append(counting, mark)
	}
	slices.SortFunc(counting, compare)
	return counting
}

// byRider parts marks by rider, each rider's in the order that they have.
func byRider(marks []*pb.Mark) map[string][]*pb.Mark {
	riders := map[string][]*pb.Mark{}
	for _, mark := range marks {
		riders[mark.GetMember()] = append(riders[mark.GetMember()], mark)
	}
	return riders
}
