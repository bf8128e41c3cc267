package readiness

import "math"

// burn is how long lamps have to last, and what the cold leaves of them.
type burn struct {
	litMin, reserveMin, needMin float64
	// left is the part of a battery's run-time that is left.
	left float64
	// temperatureC is nil where not known; then no loss is reckoned.
	temperatureC *float64
}

func newBurn(c *context) burn {
	b := burn{litMin: c.group.GetLitMin(), left: 1, temperatureC: c.group.TemperatureMinC}
	if math.IsNaN(b.litMin) {
		b.litMin = math.Inf(1) // not known: no battery is enough
	}
	if b.litMin > 0 {
		b.reserveMin = c.book.Lamp.GetReserve().AsDuration().Minutes()
		b.needMin = b.litMin + b.reserveMin
	}
	if b.temperatureC != nil {
		b.left = ColdFraction(c.book.Lamp.GetCold(), *b.temperatureC)
	}
	return b
}

// forMinutes writes how long lamps must last: " for 175 min (145 min with lights + 30 min in reserve)". Nothing where
// the group needs no lights. It is the same for every rule, so it is put together once.
func (b *burn) forMinutes(w *words) {
	if b.needMin == 0 {
		return
	}
	if w.minutes != "" {
		w.add(w.minutes)
		return
	}
	from := w.len()
	w.add(" for ")
	w.atLeastMin(b.needMin)
	if b.reserveMin > 0 {
		w.add(" (")
		w.atLeastMin(b.litMin)
		w.add(" with lights + ")
		w.atLeastMin(b.reserveMin)
		w.add(" in reserve)")
	}
	w.minutes = w.since(from)
}

// atRoom writes minutes that a battery must be declared with to last min in the cold of the ride.
func (b *burn) atRoom(min float64) string {
	if b.left == 1 {
		return atLeastMin(min)
	}
	return atLeastMin(min/b.left) + " at room temperature (" + atLeastMin(min) + " at " + degrees(*b.temperatureC) + ")"
}
