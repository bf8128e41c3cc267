package weather

import "math"

// The Magnus formula over liquid water with Sonntag's constants (1990), as
// given by WMO No. 8, Guide to Instruments and Methods of Observation. Other
// sets of constants circulate (17.625 and 243.04, for one).
const (
	magnusHPa   = 6.112
	magnusSlope = 17.62
	magnusC     = 243.12
	magnusMinC  = -45 // the range the guide gives the formula for
	magnusMaxC  = 60
)

// SaturationHPa is the vapour pressure of saturated air over water at tempC,
// for -45 to 60 degC; NaN outside.
func SaturationHPa(tempC float64) float64 {
	if !between(tempC, magnusMinC, magnusMaxC) {
		return math.NaN()
	}
	return magnusHPa * math.Exp(magnusSlope*tempC/(magnusC+tempC))
}

// DewPointC is the dew point over water (also below freezing) of air at tempC,
// -45 to 60 degC, with relative humidity rhPct above 0 and up to 100; NaN
// outside.
func DewPointC(tempC, rhPct float64) float64 {
	if !between(tempC, magnusMinC, magnusMaxC) || !(rhPct > 0 && rhPct <= 100) {
		return math.NaN()
	}
	h := math.Log(rhPct/100) + magnusSlope*tempC/(magnusC+tempC)
	return magnusC * h / (magnusSlope - h)
}

// between is false for NaN.
func between(v, low, high float64) bool { return v >= low && v <= high }
