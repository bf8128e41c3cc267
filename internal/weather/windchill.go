package weather

import "math"

const (
	// WindChillMaxC is the warmest air for which the index is defined
	// (the US service's 50 degF).
	WindChillMaxC = 10.0
	// WindChillMinKmh is the wind above which it is defined (3 mph).
	WindChillMinKmh = 4.8
)

// WindChillC is the 2001 wind chill index of Environment Canada and the US
// National Weather Service for air of tempC (degC) and a wind of windKmh
// (km/h) measured at 10 m. It is defined at or below 10 degC with more than
// 4.8 km/h of wind; elsewhere defined is false and c is NaN.
//
// The index already allows for the wind being slower at face level. Riding
// speed is air flow at face level, so it must not simply be added to windKmh.
func WindChillC(tempC, windKmh float64) (c float64, defined bool) {
	if !(tempC <= WindChillMaxC && windKmh > WindChillMinKmh) || math.IsInf(tempC, 0) || math.IsInf(windKmh, 0) {
		return math.NaN(), false
	}
	v := math.Pow(windKmh, 0.16)
	return 13.12 + 0.6215*tempC - 11.37*v + 0.3965*tempC*v, true
}
