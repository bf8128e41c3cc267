package brief

import (
	"slices"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

func (t *teller) hazards() *section {
	s := &section{id: "hazards", title: "Hazards and ways out"}
	ride := t.r.GetRide()
	for _, h := range byDistance(ride.GetHazards()) {
		s.say("At %s: %s", phrase.Km(h.GetAtDistanceM()), phrase.Sentence(h.GetWhat()))
	}
	if len(ride.GetHazards()) == 0 {
		s.say("No hazard is noted on this route. That does not mean there is none.")
	} else {
		s.say("There will be others: call out what you see.")
	}
	for _, w := range byDistance(ride.GetWaysOut()) {
		s.say("Way out at %s: %s", phrase.Km(w.GetAtDistanceM()), phrase.Sentence(w.GetWhat()))
	}
	if len(ride.GetWaysOut()) == 0 {
		s.say("No way out is noted. Ask the leader before you need one.")
	}
	return s
}

// byDistance is notes in the order in which the ride comes to them.
func byDistance(notes []*pb.PlaceNote) []*pb.PlaceNote {
	sorted := slices.Clone(notes)
	slices.SortStableFunc(sorted, func(a, b *pb.PlaceNote) int {
		switch {
		case a.GetAtDistanceM() < b.GetAtDistanceM():
			return -1
		case a.GetAtDistanceM() > b.GetAtDistanceM():
			return 1
		}
		return 0
	})
	return sorted
}
