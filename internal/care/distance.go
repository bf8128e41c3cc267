package care

import (
	"math"
	"time"

	pb "gritward/proto/gritward/v1"
)

// travelled tells how far the bike went between days: by the odometer where it was read on both days, else by the rides of
// the club that it rode home.
type travelled struct {
	rides     []Ridden
	odometers []odometer
	at        time.Time
}

// onDay is the last odometer reading of a day.
func (t travelled) onDay(day string) (odometer, bool) {
	for i := len(t.odometers) - 1; i >= 0; i-- {
		if t.odometers[i].on == day {
			return t.odometers[i], true
		}
	}
	return odometer{}, false
}

// leg is the distance from one day to another, and whether the odometer tells it. An odometer knows no wet roads: as
// much of its distance is taken to be wet as of the club's rides between, and of all of them where there is none between.
// One that tells less than the club's rides is not believed.
func (t travelled) leg(from, to string) (d distance, byOdometer bool) {
	ridden := between(t.rides, from, to)
	first, okFirst := t.onDay(from)
	last, okLast := t.onDay(to)
	km := last.km - first.km
	if !okFirst || !okLast || !(km > 0) || km < ridden.km {
		return ridden, false
	}
	share := ridden
	if share.km == 0 {
		share = between(t.rides, "", t.today())
	}
	if share.km == 0 {
		return distance{km: km}, true
	}
	return distance{km, km * share.wetKm / share.km}, true
}

func (t travelled) today() string { return t.at.Format(time.DateOnly) }

// since is how far the bike went from a day until now, km: by the odometer up to the day on which it was last read, where
// it was read on the first day too, and from there by the club's rides.
func (t travelled) since(day string) float64 {
	if n := len(t.odometers); n > 0 && t.odometers[n-1].on > day {
		last := t.odometers[n-1].on
		if d, ok := t.leg(day, last); ok {
			return d.km + between(t.rides, last, t.today()).km
		}
	}
	return between(t.rides, day, t.today()).km
}

// leastSpan is the fewest days between two odometer readings from which it is told how much is ridden. A choice of this
// program.
const leastSpan = 14

// habit is how much is ridden lately, km a day, the share of that on wet roads, NaN where nothing is known, and whether the
// odometer tells it, as two readings lately do; else the club's rides.
func (t travelled) habit() (kmADay, wetShare float64, byOdometer bool) {
	kmADay, wetShare = habit(t.rides, t.at)
	first := t.at.AddDate(0, 0, -lately).Format(time.DateOnly)
	var lateReadings []odometer
	for _, one := range t.odometers {
		if one.on >= first && one.on <= t.today() {
			lateReadings = append(lateReadings, one)
		}
	}
	if len(lateReadings) < 2 {
		return kmADay, wetShare, false
	}
	a, b := lateReadings[0], lateReadings[len(lateReadings)-1]
	days := dayOf(b.on).Sub(dayOf(a.on)).Hours() / 24
	if days < leastSpan || math.IsNaN(days) || b.km-a.km <= kmADay*days {
		return kmADay, wetShare, false
	}
	return (b.km - a.km) / days, wetShare, true
}

func dayOf(day string) time.Time {
	at, _ := time.Parse(time.DateOnly, day) // days of entries that stand are dates
	return at
}

// byWords tells what a distance was taken from, after it.
var byWords = map[pb.WearProjection_Distance]string{
	pb.WearProjection_CLUB_RIDES: "of club rides ridden home", pb.WearProjection_ODOMETER: "by the odometer",
	pb.WearProjection_ODOMETER_AND_CLUB_RIDES: "by the odometer or, where a reading has none, of club rides ridden home",
}
