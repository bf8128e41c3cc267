package weather

// KmhPerMS turns m/s into km/h.
const KmhPerMS = 3.6

// Beaufort is a force of wind, 0 to 12; -1 is unknown.
type Beaufort int

// lowerMS is the least mean wind, m/s at 10 m, of forces 1 to 12 (WMO
// No. 306, code table 1100).
var lowerMS = [...]float64{0.3, 1.6, 3.4, 5.5, 8.0, 10.8, 13.9, 17.2, 20.8, 24.5, 28.5, 32.7}

var forceNames = [...]string{
	"calm", "light air", "light breeze", "gentle breeze", "moderate breeze", "fresh breeze", "strong breeze",
	"near gale", "gale", "strong gale", "storm", "violent storm", "hurricane force",
}

// BeaufortOf is the force of a mean wind in m/s; -1 for NaN or a negative wind.
func BeaufortOf(windMS float64) Beaufort {
	if !(windMS >= 0) {
		return -1
	}
	force := Beaufort(0)
	for _, least := range lowerMS {
		if windMS >= least {
			force++
		}
	}
	return force
}

// String is the force's name, as "fresh breeze".
func (b Beaufort) String() string {
	if b < 0 || int(b) >= len(forceNames) {
		return "wind unknown"
	}
	return forceNames[b]
}
