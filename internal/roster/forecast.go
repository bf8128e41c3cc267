package roster

import (
	"fmt"
	"math"
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/fault"
	"gritward/internal/forecast"
	"gritward/internal/route"
	pb "gritward/proto/gritward/v1"
)

const (
	// lookBack is how long before an hour rain or a clear sky still counts for it: "recently wet" and "the night before".
	lookBack = 12 * time.Hour
	// keepBefore and keepAfter bound the hours of a forecast that a ride keeps, from its start.
	keepBefore, keepAfter = lookBack, 24 * time.Hour
	// clearBelowPct is the most cloud of a sky called clear: two eighths, the "few" of aviation reports (WMO No. 306,
	// FM 15 METAR).
	clearBelowPct = 25
	// farthestM is how far from the route a forecast may be for. Common practice, no source: forecasts differ little over
	// that distance in open country.
	farthestM = 25_000
	// lapseCPerM is by how much the air is colder a metre higher up: ICAO standard atmosphere, 6.5 °C per km.
	lapseCPerM = 0.0065
	// higherM is from which height above the forecast's place the colder air is told.
	higherM = 100
	// keptHours is the most hours kept, as the protocol has it.
	keptHours = 60
	// clockSlack is by how much the clocks of the service and of the server may differ.
	clockSlack = 10 * time.Minute
)

// ReadForecast reads a forecast's file. FORECAST_INVALID says what is wrong with it, and where.
func ReadForecast(file []byte) (*forecast.Forecast, error) {
	read, err := forecast.Read(file)
	if err != nil {
		return nil, &fault.Error{
			Reason: pb.Reason_FORECAST_INVALID, Message: "the forecast cannot be used",
			Fields: []fault.Field{{Path: "file", What: err.Error()}},
		}
	}
	return read, nil
}

// ForecastFor is what a ride needs of a forecast.
type ForecastFor struct {
	Start time.Time // of the ride, in the club's zone, in which times are told
	Line  *pb.RouteLine
	// ReadAt is when it was read, Now the time it is judged at.
	ReadAt, Now time.Time
	// MaxAge is how old a forecast may be to be relied on.
	MaxAge time.Duration
	// Origin and Notes come with it.
	Origin string
	Notes  []string
}

// Forecast takes from a forecast the hours that matter to a ride. FORECAST_STALE when it is too old, FORECAST_SHORT
// when it does not reach the start, FORECAST_INVALID when it is for another place or from the future.
func Forecast(read *forecast.Forecast, ride ForecastFor) (*pb.Forecast, error) {
	if err := ride.fits(read); err != nil {
		return nil, err
	}
	kept := &pb.Forecast{
		IssuedAt: timestamppb.New(read.IssuedAt), ReadAt: timestamppb.New(ride.ReadAt), Origin: ride.Origin,
		LatDeg: read.LatDeg, LonDeg: read.LonDeg, StaleAt: timestamppb.New(read.IssuedAt.Add(ride.MaxAge)),
		Notes: ride.Notes,
	}
	steps := whole(read)
	for i, step := range read.Steps {
		from, to := step.At, read.Until(i)
		if !to.After(ride.Start.Add(-keepBefore)) || from.After(ride.Start.Add(keepAfter)) {
			continue
		}
		kept.Hours = append(kept.Hours, &pb.ForecastHour{
			FromAt: timestamppb.New(from), ToAt: timestamppb.New(to), Weather: weatherOf(steps, i),
			PrecipitationMm: known(steps[i].PrecipMM), FogPct: known(step.FogPct), CloudPct: known(step.CloudPct),
		})
		if long := to.Sub(from); !from.After(ride.Start) && to.After(ride.Start) && long > time.Hour {
			kept.Notes = append(kept.Notes, fmt.Sprintf(
				"The forecast goes in steps of %.0f hours at the start: read it again nearer the day.", long.Hours()))
		}
	}
	if len(kept.Hours) > keptHours {
		return nil, fault.New(pb.Reason_FORECAST_INVALID, "the forecast has more than %d times in the hours of the ride; it should go by the hour", keptHours)
	}
	kept.Notes = append(kept.Notes, heightNote(read, ride.Line)...)
	return kept, nil
}

// fits refuses a forecast that is no use to the ride.
func (ride ForecastFor) fits(read *forecast.Forecast) error {
	tell := func(at time.Time) string { return at.In(ride.Start.Location()).Format("Mon 2 Jan 15:04") }
	first, last := read.Steps[0].At, read.Until(len(read.Steps)-1)
	age := ride.Now.Sub(read.IssuedAt)
	switch {
	case age < -clockSlack:
		return fault.New(pb.Reason_FORECAST_INVALID, "the forecast says that it was made on %s, which is still to come: it, or the server's clock, is wrong", tell(read.IssuedAt))
	case age > ride.MaxAge:
		return fault.New(pb.Reason_FORECAST_STALE, "the forecast was made on %s, %.1f hours ago; one older than %g hours is not relied on", tell(read.IssuedAt), age.Hours(), ride.MaxAge.Hours())
	case first.After(ride.Start) || !last.After(ride.Start):
		return fault.New(pb.Reason_FORECAST_SHORT, "the forecast reaches from %s to %s; the ride starts on %s", tell(first), tell(last), tell(ride.Start))
	}
	if away := nearest(ride.Line, read.LatDeg, read.LonDeg); away > farthestM {
		return fault.New(pb.Reason_FORECAST_INVALID, "the forecast is for %.4f, %.4f, which is %.0f km from the route; take one for the place of the ride", read.LatDeg, read.LonDeg, away/1000)
	}
	return nil
}

// nearest is how far a place is from the nearest point of a line, m.
func nearest(line *pb.RouteLine, latDeg, lonDeg float64) float64 {
	least := math.Inf(1)
	for i := range line.LatDeg {
		least = min(least, route.DistanceM(line.LatDeg[i], line.LonDeg[i], latDeg, lonDeg))
	}
	return least
}

// heightNote tells how much colder it is where the route is highest.
func heightNote(read *forecast.Forecast, line *pb.RouteLine) []string {
	top := math.Inf(-1)
	for _, elev := range line.ElevM {
		if e := float64(elev); !math.IsNaN(e) {
			top = max(top, e)
		}
	}
	if higher := top - read.AltM; higher >= higherM && !math.IsInf(top, 0) { // false where the height is not known
		return []string{fmt.Sprintf("The forecast is for %.0f m above the sea; the route climbs to %.0f m, where the air is some %.0f °C colder.",
			read.AltM, top, math.Ceil(higher*lapseCPerM))}
	}
	return nil
}

// whole gives the steps of a forecast without the precipitation of those of which it is told for a part alone and is none:
// no rain in the first hour of six says nothing of the other five, and rain in it says enough.
func whole(read *forecast.Forecast) []forecast.Step {
	steps := slices.Clone(read.Steps)
	for i, step := range steps {
		if step.PrecipMM == 0 && step.PrecipFor < read.Until(i).Sub(step.At) {
			steps[i].PrecipMM = math.NaN()
		}
	}
	return steps
}

// weatherOf is the weather of a step as a ride has it. What the forecast does not tell is left out: gusts and dew point
// in the shorter form, and the visibility always.
func weatherOf(steps []forecast.Step, i int) *pb.Weather {
	step := steps[i]
	w := &pb.Weather{
		TemperatureC: known(step.TempC), WindKmh: known(step.WindKmh), WindFromDeg: known(step.WindFromDeg),
		GustKmh: known(step.GustKmh), HumidityPct: known(step.HumidityPct), DewPointC: known(step.DewPointC),
	}
	before, told := earlier(steps, i)
	wetBefore, rainTold := lately(before, func(s forecast.Step) float64 { return s.PrecipMM }, func(mm float64) bool { return mm > 0 })
	clearBefore, cloudTold := lately(before, func(s forecast.Step) float64 { return s.CloudPct }, isClear)
	w.RecentlyWet = decided(wetBefore, told && rainTold)
	// Rain that is forecast wets the road; no rain leaves it dry only where it was dry before.
	switch {
	case step.PrecipMM > 0:
		w.Wet = decided(true, true)
	case step.PrecipMM == 0 && w.RecentlyWet != nil && !*w.RecentlyWet:
		w.Wet = decided(false, true)
	}
	w.ClearSky = decided(isClear(step.CloudPct) || clearBefore, told && cloudTold && forecast.Known(step.CloudPct))
	return w
}

func isClear(cloudPct float64) bool { return cloudPct <= clearBelowPct }

// earlier gives the steps that touch the hours before the i-th, and whether they reach back over all of them.
func earlier(steps []forecast.Step, i int) (before []forecast.Step, whole bool) {
	since := steps[i].At.Add(-lookBack)
	first := i
	for first > 0 && steps[first].At.After(since) {
		first--
	}
	return steps[first:i], !steps[first].At.After(since)
}

// lately tells whether something held in any of the steps, and whether all of them tell.
func lately(steps []forecast.Step, of func(forecast.Step) float64, holds func(float64) bool) (any, told bool) {
	told = true
	for _, step := range steps {
		v := of(step)
		any, told = any || holds(v), told && forecast.Known(v)
	}
	return any, told
}

// decided is true where it holds, false where it is known not to, and nothing where nobody knows.
func decided(holds, told bool) *bool {
	if !holds && !told {
		return nil
	}
	return &holds
}

// known is a figure, or nothing for one that was not given.
func known(v float64) *float64 {
	if !forecast.Known(v) {
		return nil
	}
	return &v
}

// Reaches tells whether a ride's forecast has the hour of a start.
func Reaches(kept *pb.Forecast, start time.Time) bool {
	return len(kept.GetHours()) > 0 && !kept.Hours[0].FromAt.AsTime().After(start) &&
		kept.Hours[len(kept.Hours)-1].ToAt.AsTime().After(start)
}

// SameHours tells whether two forecasts foresee the same, whenever they were made.
func SameHours(a, b *pb.Forecast) bool { return sameList(a.GetHours(), b.GetHours()) }

// StaleForecast refuses to rely on a ride's forecast that has grown too old: FORECAST_STALE. No forecast is fine.
func StaleForecast(ride *pb.Ride, now time.Time) error {
	kept := ride.GetForecast()
	if kept == nil || !now.After(kept.StaleAt.AsTime()) {
		return nil
	}
	return fault.New(pb.Reason_FORECAST_STALE, "the ride's forecast was made %.1f hours ago; one older than %g hours is not relied on",
		now.Sub(kept.IssuedAt.AsTime()).Hours(), kept.StaleAt.AsTime().Sub(kept.IssuedAt.AsTime()).Hours())
}
