package roster

import pb "gritward/proto/gritward/v1"

// RidesIn tells in which group a member rides, clubs/{club}/members/{member}, by id: the newest mark that names one, else
// that of the roster (nil: there is none); "" for none.
func RidesIn(issue *pb.Roster, marks []*pb.Mark) func(member string) string {
	placed := groupsOf(issue)
	for id, rider := range marksByRider(marks) {
		for _, mark := range rider {
			if mark.Group != "" {
				placed[id] = mark.Group
			}
		}
	}
	return func(member string) string { return placed[riderID(member)] }
}
