package wear

import (
	"cmp"
	"math"
	"slices"
)

const (
	// FewestReadings is the fewest readings, at different distances, from which anything is projected: two give a line
	// but no hint of how wrong it is.
	FewestReadings = 3
	// LeastSpanKm is the least distance between the first and the last reading, km. A choice of this program: less than
	// a tenth of the life of a chain (2,000 to 4,000 miles, as riders report it).
	LeastSpanKm = 200
	// MostReadings is the most readings used, the newest ones.
	MostReadings = 30
	// Probability is what the range is made for: four times in five the limit is reached in it. With three readings
	// Sen's interval holds two times in three.
	Probability = 0.8

	// Readings beyond these cannot be of a bike and are left out: km, and % or mm.
	mostKm, mostValue = 1e7, 1e4
	// leastWear is the wear over all readings below which there is none, whatever the measuring error, % or mm.
	leastWear = 1e-9
)

// Reading is one measurement of a part.
type Reading struct {
	// Km is the distance that the part's bike had gone, cumulative, 0 to 10,000,000.
	Km float64
	// WetKm is how much of Km was on wet roads, cumulative, 0 to Km.
	WetKm float64
	// Value is what was read, in the unit of the limit, -10,000 to 10,000.
	Value float64
}

// Part is a part with its readings.
type Part struct {
	// Readings since the part was last replaced, in order of Km. Of those at the same Km the last is the newest. A
	// reading that is not a number or out of range is left out.
	Readings []Reading
	// Limit is where the part is worn out, in the unit of the readings.
	Limit float64
	// Rising: the value rises to the limit, as a chain's %; otherwise it falls to it, as a pad's mm.
	Rising bool
	// FloorSpread is by how much a reading may be off either way with nothing wrong, in the unit of the readings, >= 0.
	FloorSpread float64
}

// Basis is what a projection rests on.
type Basis int

const (
	// NotEnough: fewer than FewestReadings, closer together than LeastSpanKm, or no more wear between them than one
	// reading may be off.
	NotEnough Basis = iota
	// OneRate: wet and dry roads are not told apart.
	OneRate
	// WetAndDry: wear on wet and on dry roads, told apart.
	WetAndDry
)

// Projection is how far a part will go.
type Projection struct {
	// Basis is what it rests on; with NotEnough the rates and distances are 0.
	Basis Basis
	// Used is how many readings were used.
	Used int
	// Places is at how many different distances the readings used were made, and SpanKm how far the first and the last of
	// them lie apart, km: what tells why a basis is NotEnough.
	Places int
	SpanKm float64
	// Newest is the newest reading, 0 without one.
	Newest float64
	// DryPer1000Km and WetPer1000Km are the wear for 1,000 km, in the unit of the limit, >= 0; the same with OneRate.
	DryPer1000Km, WetPer1000Km float64
	// KmLow, KmMiddle and KmHigh are the distance from the newest reading to the limit, km, >= 0: nearest that is
	// likely, best guess, and farthest that is likely, +Inf where it cannot be bounded. KmLow <= KmMiddle <= KmHigh.
	KmLow, KmMiddle, KmHigh float64
	// Reached: the newest reading is at the limit or beyond. The distances are 0 then.
	Reached bool
}

// reading is a measurement as wear: it rises, whatever the value does.
type reading struct{ km, wetKm, wear float64 }

func (r reading) dryKm() float64 { return r.km - r.wetKm }

// Project tells how far the part will go until its limit. wetShare is the share of the distance to come that will be on
// wet roads, 0 to 1; NaN: as between the readings.
//
// With wet and dry told apart each reading's distance is first turned into as much of the mix to come as wears the part
// as far. Then the slope of wear over distance (Slope), and the level at the newest reading (the median of what each
// reading would be there), give the distance to the limit. The nearest distance takes the highest slope and level, the
// farthest the lowest; levels from the lower to the upper quarter of the readings. Neither is trusted more closely than
// the measuring error: FloorSpread for the level, FloorSpread over the span of the readings for the slope.
func Project(part Part, wetShare float64) Projection {
	readings := sound(part)
	p := Projection{Used: len(readings)}
	if len(readings) == 0 || !isWithin(part.Limit, mostValue) {
		return p
	}
	p.Places, p.SpanKm = places(readings), readings[len(readings)-1].km-readings[0].km
	sign := part.sign()
	p.Newest = sign * readings[len(readings)-1].wear
	p.Reached = sign*p.Newest >= sign*part.Limit
	mix, basis := mixOf(readings, wetShare)
	line, ok := lineOf(readings, mix, part.floor())
	if !ok {
		return p
	}
	p.Basis = basis
	p.DryPer1000Km, p.WetPer1000Km = 1000*line.slope.Middle*mix.dry, 1000*line.slope.Middle*mix.wet
	if !p.Reached {
		limit := sign * part.Limit
		p.KmLow = distance(limit-line.level.High, line.slope.High)
		p.KmMiddle = distance(limit-line.level.Middle, line.slope.Middle)
		p.KmHigh = distance(limit-line.level.Low, line.slope.Low)
	}
	return p
}

// distance is how far a part goes that has so much wear left, km; +Inf where it does not wear.
func distance(left, slope float64) float64 {
	switch {
	case left <= 0:
		return 0
	case slope <= 0:
		return math.Inf(1)
	default:
		return left / slope
	}
}

// sign is 1 for a value that rises with wear and -1 for one that falls.
func (p Part) sign() float64 {
	if p.Rising {
		return 1
	}
	return -1
}

// floor is the measuring error, 0 where it is none.
func (p Part) floor() float64 {
	if p.FloorSpread > 0 && p.FloorSpread <= mostValue {
		return p.FloorSpread
	}
	return 0
}

// sound turns the readings that can be used into wear, in order of distance.
func sound(part Part) []reading {
	var readings []reading
	for _, r := range part.Readings {
		if r.Km >= 0 && isWithin(r.Km, mostKm) && isWithin(r.WetKm, mostKm) && isWithin(r.Value, mostValue) {
			readings = append(readings, reading{r.Km, min(max(r.WetKm, 0), r.Km), part.sign() * r.Value})
		}
	}
	slices.SortStableFunc(readings, func(a, b reading) int { return cmp.Compare(a.km, b.km) })
	return readings[max(len(readings)-MostReadings, 0):]
}

// isWithin is false for NaN.
func isWithin(x, most float64) bool { return math.Abs(x) <= most }

// mixOf gives how much faster than the mix to come dry and wet roads wear the part: 1 and 1 where they are not told
// apart.
func mixOf(readings []reading, wetShare float64) (rates, Basis) {
	r, ok := tellApart(readings)
	if !ok {
		return rates{1, 1}, OneRate
	}
	first, last := readings[0], readings[len(readings)-1]
	if math.IsNaN(wetShare) {
		wetShare = (last.wetKm - first.wetKm) / (last.km - first.km)
	}
	wetShare = min(max(wetShare, 0), 1)
	ahead := r.dry*(1-wetShare) + r.wet*wetShare
	if ahead < max(r.dry, r.wet)/1000 { // only roads on which no wear was seen: the readings cannot tell of them
		return rates{1, 1}, OneRate
	}
	return rates{r.dry / ahead, r.wet / ahead}, WetAndDry
}

// line is wear along the distance of the mix to come: its slope, for 1 km, and its level at the newest reading.
type line struct{ slope, level Interval }

// lineOf fits the line. ok is false where the readings are not enough.
func lineOf(readings []reading, mix rates, floor float64) (line, bool) {
	first, last := readings[0], readings[len(readings)-1]
	if places(readings) < FewestReadings || last.km-first.km < LeastSpanKm {
		return line{}, false
	}
	along := func(r reading) float64 { return mix.dry*r.dryKm() + mix.wet*r.wetKm }
	var x, y, levels []float64
	for _, r := range readings {
		x, y = append(x, along(r)), append(y, r.wear)
	}
	slope, ok := Slope(x, y, Probability)
	if !ok {
		return line{}, false
	}
	span := along(last) - along(first)
	if wear := slope.Middle * span; !(wear > max(floor, leastWear)) {
		return line{}, false
	}
	for i := range x {
		levels = append(levels, y[i]+slope.Middle*(along(last)-x[i]))
	}
	level := Interval{quantile(levels, 0.25), median(levels), quantile(levels, 0.75)}
	return line{
		slope: Interval{min(slope.Low, slope.Middle-floor/span), slope.Middle, max(slope.High, slope.Middle+floor/span)},
		level: Interval{min(level.Low, level.Middle-floor), level.Middle, max(level.High, level.Middle+floor)},
	}, true
}

// places counts the different distances at which the part was read.
func places(readings []reading) int {
	n := 0
	for i, r := range readings {
		if i == 0 || r.km-readings[i-1].km >= apart {
			n++
		}
	}
	return n
}
