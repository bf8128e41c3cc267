package weather

import "math"

const (
	// StandardPressureHPa is sea-level pressure in the ICAO standard atmosphere.
	StandardPressureHPa = 1013.25

	dryAirJPerKgK = 287.05  // specific gas constant of dry air
	vapourJPerKgK = 461.495 // and of water vapour
	zeroCelsiusK  = 273.15
)

// AirDensityKgM3 is the density of moist air by the ideal gas law for dry air
// and vapour apart: tempC from -45 to 60 degC, pressureHPa above the vapour's
// own, rhPct from 0 (dry) to 100. NaN outside.
func AirDensityKgM3(tempC, pressureHPa, rhPct float64) float64 {
	vapourHPa := SaturationHPa(tempC) * rhPct / 100
	if !between(rhPct, 0, 100) || !(pressureHPa > vapourHPa) || math.IsInf(pressureHPa, 0) {
		return math.NaN()
	}
	kelvin := tempC + zeroCelsiusK
	const paPerHPa = 100
	return paPerHPa * ((pressureHPa-vapourHPa)/dryAirJPerKgK + vapourHPa/vapourJPerKgK) / kelvin
}

// PressureHPa is the pressure of the standard atmosphere at heightM metres
// above the sea (ICAO standard atmosphere, troposphere: -500 to 11000 m); NaN
// outside.
func PressureHPa(heightM float64) float64 {
	if !between(heightM, -500, 11000) {
		return math.NaN()
	}
	return StandardPressureHPa * math.Pow(1-2.25577e-5*heightM, 5.2559)
}
