package care

import (
	"math"
	"time"

	"gritward/internal/wear"
	pb "gritward/proto/gritward/v1"
)

// project adds what is to be said of a part's wear: to the item of the rule that it breaks, or as an item of its
// own. Nothing is said of a part that no rule limits or that was not measured since it was renewed.
func (j *judging) project(w wearing, items []item) []item {
	readings := w.readings(j.in.Bike.GetDeclaration(), j.subject.Care, j.in.At)
	if len(readings) == 0 {
		return items
	}
	limit, by, ok := j.limit(w)
	if !ok {
		return items
	}
	kmADay, wetShare := habit(j.in.Rides, j.in.At)
	p := wear.Project(j.part(w, readings, limit), wetShare)
	projection := w.message(p, limit)
	for _, one := range items {
		same := one.ask.order == by.order && one.ask.limit == by.limit
		if p.Reached && same && one.Urgency == pb.DueItem_OVERDUE && w.isOf(one.DueItem) {
			if one.Projection == nil { // of two worn ends the front one
				one.Projection = projection
			}
			one.Why = sentences(one.Why, projection.GetWords())
			return items
		}
	}
	one := item{ask: by, days: math.Inf(1), DueItem: &pb.DueItem{
		Bike: j.subject.Bike, Rule: by.rule.GetId(), Check: w.check, Projection: projection, Urgency: pb.DueItem_LATER,
	}}
	newest := readings[len(readings)-1]
	left := ahead{projection: p, since: between(j.in.Rides, newest.on, j.in.At.Format(time.DateOnly)).km, kmADay: kmADay}
	left.fill(&one, w, j.in.DaysAhead)
	return append(items, one)
}

// part is the part as the calculator takes it, its distance counted in rides of the club.
func (j *judging) part(w wearing, readings []measured, limit float64) wear.Part {
	part := wear.Part{Limit: limit, Rising: w.rising(), FloorSpread: w.spread}
	for _, reading := range readings {
		gone := between(j.in.Rides, "", reading.on)
		part.Readings = append(part.Readings, wear.Reading{Km: gone.km, WetKm: gone.wetKm, Value: reading.value})
	}
	return part
}

// message is a projection as the protocol has it.
func (w wearing) message(p wear.Projection, limit float64) *pb.WearProjection {
	m := &pb.WearProjection{
		Readings: int32(p.Used), Newest: p.Newest, Limit: limit, KmLow: p.KmLow, KmMiddle: p.KmMiddle,
		DryPer_1000Km: p.DryPer1000Km, Part: w.measured, End: w.end,
	}
	switch p.Basis {
	case wear.OneRate:
		m.Basis = pb.WearProjection_ONE_RATE
	case wear.WetAndDry:
		m.Basis = pb.WearProjection_WET_AND_DRY
		m.WetPer_1000Km = &p.WetPer1000Km
	default:
		m.Basis = pb.WearProjection_NOT_ENOUGH_READINGS
	}
	if p.Basis != wear.NotEnough && !math.IsInf(p.KmHigh, 1) {
		m.KmHigh = &p.KmHigh
	}
	m.Words = w.words(p, limit)
	return m
}

// ahead is how far a part has still to go.
type ahead struct {
	projection wear.Projection
	since      float64 // km since the newest reading
	kmADay     float64
}

// fill says what to do, how pressing it is and why.
func (a ahead) fill(one *item, w wearing, daysAhead int) {
	words, p := one.Projection.GetWords(), a.projection
	switch {
	case p.Reached:
		one.What, one.Urgency, one.days = w.renew()+".", pb.DueItem_OVERDUE, 0
		one.Why = words
	case p.Basis == wear.NotEnough:
		one.What, one.Why = w.measureAgain(), words
	default:
		km := max(p.KmMiddle-a.since, 0)
		one.What = w.renewAt(one.Projection.GetLimit())
		one.DueInKm = &km
		if a.kmADay > 0 {
			one.days = km / a.kmADay
		}
		if max(p.KmLow-a.since, 0) <= a.kmADay*float64(daysAhead) {
			one.Urgency = pb.DueItem_SOON
		}
		one.Why = sentences(words, a.words(km), "Reckoned from readings, this does not replace measuring.")
	}
}
