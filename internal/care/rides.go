package care

import (
	"math"
	"time"
)

// Ridden is one ride of the club that the bike rode home.
type Ridden struct {
	// On is its civil date, YYYY-MM-DD.
	On string
	// Km is how far it went, km, >= 0.
	Km float64
	// Wet: the road was wet.
	Wet bool
}

// lately is how far back rides count for how much is ridden, and how much of that on wet roads. A choice of this program.
const lately = 84 // days

// distance is how far the bike went, and how much of it on wet roads, km.
type distance struct{ km, wetKm float64 }

// between adds up the rides after one civil date, up to and with another. A reading on the day of a ride is taken to be
// made after it. Only rides of the club count: what a bike is ridden otherwise wears it too, and is in the rate for a
// kilometre of the club's.
func between(rides []Ridden, after, with string) distance {
	var d distance
	for _, ride := range rides {
		if ride.On > after && ride.On <= with && ride.Km > 0 && !math.IsInf(ride.Km, 0) {
			d.km += ride.Km
			if ride.Wet {
				d.wetKm += ride.Km
			}
		}
	}
	return d
}

// habit is how much is ridden lately, km a day, and the share of that on wet roads; NaN where nothing is.
func habit(rides []Ridden, at time.Time) (kmADay, wetShare float64) {
	d := between(rides, at.AddDate(0, 0, -lately).Format(time.DateOnly), at.Format(time.DateOnly))
	return d.km / lately, d.wetKm / d.km
}

// lastWet is the civil date of the last wet ride up to an instant; "" for none.
func lastWet(rides []Ridden, at time.Time) string {
	last := ""
	for _, ride := range rides {
		if ride.Wet && ride.On > last && ride.On <= at.Format(time.DateOnly) {
			last = ride.On
		}
	}
	return last
}
