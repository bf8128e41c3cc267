package roster

import pb "gritward/proto/gritward/v1"

// Attendance is where a rider is on the day, by the roll call.
type Attendance struct {
	// Member is clubs/{club}/members/{member}.
	Member string
	// Group is the id of the group that the rider rides in; "" for none.
	Group string
	// SignedOn tells that the rider has signed on, or was marked on the ride since.
	SignedOn bool
	// NoShow tells that the rider did not come, by the newest mark that says so or otherwise.
	NoShow bool
}

// Attend tells of each member of that name in which group they ride, by the newest mark that names one, else by the roster
// (nil: there is none), and whether they have signed on.
func Attend(members []string, issue *pb.Roster, marks []*pb.Mark) []Attendance {
	placed := map[string]string{}
	if issue != nil {
		placed = groupsOf(issue)
	}
	byRider := marksByRider(marks)
	riders := make([]Attendance, 0, len(members))
	for _, name := range members {
		rider := Attendance{Member: name, Group: placed[riderID(name)]}
		for _, mark := range byRider[riderID(name)] {
			if mark.Group != "" {
				rider.Group = mark.Group
			}
			if mark.What != pb.Mark_WHAT_UNSPECIFIED {
				rider.NoShow = mark.What == pb.Mark_NO_SHOW
				rider.SignedOn = !rider.NoShow
			}
		}
		riders = append(riders, rider)
	}
	return riders
}
