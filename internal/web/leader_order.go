package web

import (
	"math"

	"gritward/internal/names"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// placedGroup is a group of a placement as its page shows it.
type placedGroup struct {
	*pb.RosterGroup
	Riders       int
	Leaves, Home string
	Lines        []line
	Path         string
}

// line is one row of riders on the road.
type line struct {
	Seats []seat
}

// seat is one rider.
type seat struct {
	*pb.Rider
	Path string
	// Words say what is to be known of the rider there.
	Words []string
}

// farOffKmh is from how far above a rider's own pace a leader is told to ask before the start: common practice, no source.
const farOffKmh = 2

func (v *visit) placedGroup(ride *pb.Ride, group *pb.RosterGroup) placedGroup {
	base := "/" + ride.Name + "/place/"
	watch := phrase.WatchOf(v.who.GetClub().GetZone(), ride.StartAt)
	made := placedGroup{RosterGroup: group, Leaves: watch.Clock(group.GetPlan().GetStartAt()), Home: watch.Clock(group.GetPlan().GetHomeAt()),
		Path: base + "groups/" + group.Group}
	for _, row := range group.Rows {
		var seats []seat
		for _, rider := range []*pb.Rider{row.Left, row.Right} {
			if rider != nil {
				made.Riders++
				seats = append(seats, seat{rider, base + "members/" + names.Last(rider.Member), seatWords(rider)})
			}
		}
		made.Lines = append(made.Lines, line{seats})
	}
	return made
}

// seatWords say what is to be known of a rider in a group.
func seatWords(rider *pb.Rider) (words []string) {
	add := func(is bool, word string) {
		if is {
			words = append(words, word)
		}
	}
	add(rider.Leads, "leads")
	add(rider.MarksBack, "marks the back")
	add(rider.Standing != pb.Standing_CLEAR, phrase.Standing(rider.Standing))
	add(rider.Junior, "junior")
	add(rider.GuestOf != "", "guest of "+rider.GuestOf)
	add(rider.PaceOffKmh >= farOffKmh, phrase.Number(math.Round(10*rider.PaceOffKmh)/10, 1)+" km/h above own pace: ask first")
	add(rider.WishedTitle != "", "wished "+rider.WishedTitle+phrase.Between(": ", phrase.Bare(rider.WishedWhy), ""))
	return words
}
