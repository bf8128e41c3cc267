// Package waypoint tells which waypoints of a route file are stops, hazards and ways out of a ride.
package waypoint

import (
	"cmp"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"gritward/internal/phrase"
	"gritward/internal/route"
	pb "gritward/proto/gritward/v1"
)

// What a waypoint is told by: whole words of its type, else of its name. Common practice, no source.
var (
	hazardWords = sync.OnceValue(func() *regexp.Regexp {
		return regexp.MustCompile(`(?i)\b(hazard|danger|caution|warning)\b`)
	})
	// hazardPlaces are hazards unless a stop is named after one: Ford Farm cafe.
	hazardPlaces = sync.OnceValue(func() *regexp.Regexp {
		return regexp.MustCompile(`(?i)\b(ford|cattle[- ]?grid|level[- ]?crossing)\b`)
	})
	wayOutWords = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`(?i)\b(way out|bail[- ]?out|station|short ?cut)\b`) })
	stopWords   = sync.OnceValue(func() *regexp.Regexp {
		return regexp.MustCompile(`(?i)\b(stop|caf[eé]|tea ?room|food|rest|regroup)\b`)
	})
	minuteWords = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`(?i)\b([0-9]{1,3}) ?min`) })
)

const (
	// placeOffM is how far off the route a waypoint may lie and still be a place on it: common practice, no source.
	placeOffM = 500
	// stopMin is how long a stop is taken to last whose waypoint does not say: common practice, no source.
	stopMin = 30
)

// Told says what became of a waypoint.
type Told struct {
	// Words say it: "Waypoint Mill, at 5.0 km: a stop of 25 min".
	Words string
	// Guessed: how long the stop lasts is not in the file.
	Guessed bool
	// Taken: it became a place of the ride that was not there before.
	Taken bool
}

// Take adds the stops, hazards and ways out among a file's waypoints to a ride, and tells what became of each.
// A place that the ride has already, within placeOffM and of the same kind, stays as it was given. Of a file that is no
// route it takes nothing: the server tells what is wrong with it.
func Take(ride *pb.Ride, gpx io.Reader) []Told {
	line, err := route.Read(gpx)
	if err != nil {
		return nil
	}
	var told []Told
	for _, place := range line.Waypoints {
		had := places(ride)
		what, guessed := take(ride, place)
		told = append(told, Told{fmt.Sprintf("Waypoint %s, at %s: %s", place.Name, phrase.Km(place.DistM), what), guessed, places(ride) > had})
	}
	slices.SortStableFunc(ride.Stops, func(a, b *pb.Stop) int { return cmp.Compare(a.AtDistanceM, b.AtDistanceM) })
	return told
}

func places(ride *pb.Ride) int { return len(ride.Stops) + len(ride.Hazards) + len(ride.WaysOut) }

func take(ride *pb.Ride, place route.Waypoint) (what string, guessed bool) {
	if place.OffM > placeOffM {
		return fmt.Sprintf("%.0f m off the route, not taken", place.OffM), false
	}
	near := func(distM float64) bool { return distM-place.DistM < placeOffM && place.DistM-distM < placeOffM }
	noted := func(notes []*pb.PlaceNote) bool {
		return slices.ContainsFunc(notes, func(n *pb.PlaceNote) bool { return near(n.AtDistanceM) })
	}
	note := &pb.PlaceNote{AtDistanceM: place.DistM, What: shortened(joinWords(place.Name, place.Desc), 200)}
	const had = ", there already"
	for _, told := range []string{place.Type, place.Name} {
		switch {
		case hazardWords().MatchString(told), hazardPlaces().MatchString(told) && !stopWords().MatchString(told):
			if noted(ride.Hazards) {
				return "a hazard" + had, false
			}
			ride.Hazards = append(ride.Hazards, note)
			return "a hazard", false
		case wayOutWords().MatchString(told):
			if noted(ride.WaysOut) {
				return "a way out" + had, false
			}
			ride.WaysOut = append(ride.WaysOut, note)
			return "a way out", false
		case stopWords().MatchString(told):
			if slices.ContainsFunc(ride.Stops, func(s *pb.Stop) bool { return near(s.AtDistanceM) }) {
				return "a stop" + had, false
			}
			minutes, said := minutesOf(place)
			ride.Stops = append(ride.Stops, &pb.Stop{Title: shortened(place.Name, 60), AtDistanceM: place.DistM, Minutes: minutes})
			return fmt.Sprintf("a stop of %d min", minutes), !said
		}
	}
	return "neither a stop, a hazard nor a way out by its type or name, not taken", false
}

// minutesOf reads how long a stop lasts from what the waypoint says, if it does.
func minutesOf(place route.Waypoint) (minutes int32, said bool) {
	if found := minuteWords().FindStringSubmatch(joinWords(place.Name, place.Desc)); found != nil {
		if n, err := strconv.Atoi(found[1]); err == nil && n >= 1 && n <= 240 {
			return int32(n), true
		}
	}
	return stopMin, false
}

func joinWords(name, desc string) string {
	return strings.TrimPrefix(strings.TrimSuffix(name+": "+desc, ": "), ": ")
}

func shortened(text string, most int) string {
	runes := []rune(cmp.Or(text, "waypoint without a name"))
	return string(runes[:min(len(runes), most)])
}
