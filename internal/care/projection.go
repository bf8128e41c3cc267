package care

import (
	"math"

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
	limit, asking, ok := j.limit(w)
	if !ok {
		return items
	}
	gone := travelled{j.in.Rides, odometers(j.in.Bike.GetDeclaration(), standing(j.subject.Care, j.in.At), j.in.At), j.in.At}
	kmADay, wetShare, byOdometer := gone.habit()
	part, by := w.part(gone, readings, limit)
	p := wear.Project(part, wetShare)
	projection := w.message(p, limit, by)
	for _, one := range items {
		same := one.ask.order == asking.order && one.ask.limit == asking.limit
		if p.Reached && same && one.Urgency == pb.DueItem_OVERDUE && w.isOf(one.DueItem) {
			if one.Projection == nil { // of two worn ends the front one
				one.Projection = projection
			}
			one.Why, one.Cause = sentences(one.Why, projection.GetWords()), pb.DueItem_STATE
			return items
		}
	}
	one := item{ask: asking, DueItem: &pb.DueItem{
		Bike: j.subject.Bike, Rule: asking.rule.GetId(), Check: w.check, Projection: projection, Urgency: pb.DueItem_LATER,
		Standing: asking.rule.Cost(), Cause: pb.DueItem_DISTANCE,
	}}
	left := ahead{projection: p, since: gone.since(readings[len(readings)-1].on), kmADay: kmADay, byOdometer: byOdometer}
	left.fill(&one, w, j.in.DaysAhead)
	return append(items, one)
}

// part is the part as the calculator takes it, with the distance between its readings, and what that was taken from.
func (w wearing) part(gone travelled, readings []measured, limit float64) (wear.Part, pb.WearProjection_Distance) {
	part := wear.Part{Limit: limit, Rising: w.rising(), FloorSpread: w.spread}
	total, odometers, rides := distance{}, 0, 0
	for i, reading := range readings {
		if i > 0 && readings[i-1].on != reading.on {
			d, byOdometer := gone.leg(readings[i-1].on, reading.on)
			total.km, total.wetKm = total.km+d.km, total.wetKm+d.wetKm
			if byOdometer {
				odometers++
			} else {
				rides++
			}
		}
		part.Readings = append(part.Readings, wear.Reading{Km: total.km, WetKm: total.wetKm, Value: reading.value})
	}
	switch {
	case odometers > 0 && rides > 0:
		return part, pb.WearProjection_ODOMETER_AND_CLUB_RIDES
	case odometers > 0:
		return part, pb.WearProjection_ODOMETER
	default:
		return part, pb.WearProjection_CLUB_RIDES
	}
}

// message is a projection as the protocol has it.
func (w wearing) message(p wear.Projection, limit float64, by pb.WearProjection_Distance) *pb.WearProjection {
	m := &pb.WearProjection{
		Readings: int32(p.Used), Newest: p.Newest, Limit: limit, KmLow: p.KmLow, KmMiddle: p.KmMiddle,
		DryPer_1000Km: p.DryPer1000Km, Part: w.measured, End: w.end, Distance: by,
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
	m.Words = w.words(p, limit, by)
	return m
}

// ahead is how far a part has still to go.
type ahead struct {
	projection wear.Projection
	since      float64 // km since the newest reading
	kmADay     float64
	byOdometer bool // kmADay is
}

// fill says what to do, how pressing it is and why.
func (a ahead) fill(one *item, w wearing, daysAhead int) {
	words, p := one.Projection.GetWords(), a.projection
	switch {
	case p.Reached:
		one.What, one.Urgency, one.Why, one.DueInKm = w.renew()+".", pb.DueItem_OVERDUE, words, new(float64)
		one.Cause = pb.DueItem_STATE
	case p.Basis == wear.NotEnough:
		one.What, one.Why = w.measureAgain(), words
	default:
		km := max(p.KmMiddle-a.since, 0)
		one.What = w.renewAt(one.Projection.GetLimit())
		one.DueInKm = &km
		if max(p.KmLow-a.since, 0) <= a.kmADay*float64(daysAhead) {
			one.Urgency = pb.DueItem_SOON
		}
		one.Why = sentences(words, a.words(km), "Reckoned from readings, this does not replace measuring.")
	}
}
