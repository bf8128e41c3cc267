package sun

import (
	"math"
	"time"
)

const (
	degree = math.Pi / 180 // radians

	j2000Unix      = 946728000 // 2000-01-01T12:00:00 UTC in Unix seconds
	secondsPerDay  = 86400
	daysPerCentury = 36525

	// terrestrialLagDays is TT - UTC: 32.184 s + 37 leap seconds, as it has
	// stood since 2017. Ten seconds of error move the sun by 0.0001 deg.
	terrestrialLagDays = 69.2 / secondsPerDay

	// parallaxDeg is the sun's horizontal parallax at 1 au, 8.794 arcsec
	// (Meeus ch. 40).
	parallaxDeg = 8.794 / 3600
	// aberrationDeg is the constant of aberration as Meeus 25.10 applies it.
	aberrationDeg = 20.4898 / 3600
)

// days counts from the J2000 epoch in UTC days, the argument of every series
// here. Double precision holds it to better than a microsecond.
func days(t time.Time) float64 {
	return (float64(t.Unix()-j2000Unix) + float64(t.Nanosecond())*1e-9) / secondsPerDay
}

// instant is the inverse of days, to the millisecond.
func instant(d float64, zone *time.Location) time.Time {
	ms := int64(math.Round(d * secondsPerDay * 1000))
	return time.UnixMilli(ms + j2000Unix*1000).In(zone)
}

// apparent is the sun as seen from the centre of the Earth, in the true
// equator and equinox of date.
type apparent struct {
	x, y, z     float64 // unit vector: x to the equinox, z to the north pole
	au          float64 // distance, astronomical units
	equinoxesRd float64 // equation of the equinoxes (nutation in right ascension), radians
}

// apparentAt evaluates the series at d days from J2000 (UTC). The sun's
// ecliptic latitude, never above 1.2 arcsec, is taken as zero.
func apparentAt(d float64) apparent {
	t := (d + terrestrialLagDays) / daysPerCentury
	meanLon := 280.46646 + t*(36000.76983+t*0.0003032)            // Meeus 25.2
	anomaly := (357.52911 + t*(35999.05029-t*0.0001537)) * degree // 25.3
	eccentricity := 0.016708634 - t*(0.000042037+t*0.0000001267)  // 25.4
	node := (125.04452 - 1934.136261*t) * degree                  // ch. 22
	twiceLon := 2 * meanLon * degree                              // ch. 22, 2L
	obliquity := (23.4392911 - t*(0.0130041667+t*1.63889e-7))     // 22.2
	centre := equationOfCentre(t, anomaly)                        // ch. 25
	sinNode, cosNode := math.Sincos(node)
	sinTwice, cosTwice := math.Sincos(twiceLon)
	nutLon := (-17.20*sinNode - 1.32*sinTwice) / 3600 // ch. 22, to 0.5 arcsec
	nutObl := (9.20*cosNode + 0.57*cosTwice) / 3600

	au := 1.000001018 * (1 - eccentricity*eccentricity) /
		(1 + eccentricity*math.Cos(anomaly+centre*degree)) // 25.5
	lon := meanLon + centre + perturbationsDeg(t) + nutLon - aberrationDeg/au

	sinLon, cosLon := math.Sincos(lon * degree)
	sinObl, cosObl := math.Sincos((obliquity + nutObl) * degree)
	return apparent{
		x: cosLon, y: cosObl * sinLon, z: sinObl * sinLon,
		au:          au,
		equinoxesRd: nutLon * cosObl * degree,
	}
}

// equationOfCentre is true minus mean longitude in degrees (Meeus ch. 25).
// Multiples of the anomaly come from one sine and cosine, for speed.
func equationOfCentre(t, anomaly float64) float64 {
	s, c := math.Sincos(anomaly)
	sin2 := 2 * s * c
	sin3 := s * (3 - 4*s*s)
	return (1.914602-t*(0.004817+t*0.000014))*s + (0.019993-t*0.000101)*sin2 + 0.000289*sin3
}

// perturbationsDeg is what Venus (two terms), Jupiter, the Moon and a
// long-period inequality add to the sun's longitude: Meeus, Astronomical
// Formulae for Calculators, ch. 18, whose time runs from 1900 (from memory;
// the test against an independent ephemeris vouches for them).
func perturbationsDeg(t float64) float64 {
	u := t + 1 // Julian centuries from 1900 January 0.5
	return 0.00134*math.Cos((153.23+22518.7541*u)*degree) +
		0.00154*math.Cos((216.57+45037.5082*u)*degree) +
		0.00200*math.Cos((312.69+32964.3577*u)*degree) +
		0.00179*math.Sin((350.74+445267.1142*u)*degree) +
		0.00178*math.Sin((231.19+20.20*u)*degree)
}

// siderealRd is Greenwich mean sidereal time as an angle in radians
// (Meeus 12.4). Whole turns of d are taken off first to keep the digits.
func siderealRd(d float64) float64 {
	t := d / daysPerCentury
	whole := math.Floor(d)
	return (280.46061837 + 360*(d-whole) + 0.98564736629*d + t*t*0.000387933) * degree
}
