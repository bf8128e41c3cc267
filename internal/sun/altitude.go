package sun

import (
	"math"
	"time"
)

// AltitudeDeg is the altitude of the sun's centre in degrees above the flat
// horizon, topocentric, without refraction. It is NaN for a [Place] that does
// not validate. Within 0.004 deg of the reference of 2024 to 2029 in testdata/sun.
func AltitudeDeg(t time.Time, p Place) float64 {
	return newSite(p).altitudeDeg(days(t))
}

// AzimuthDeg is the direction of the sun in degrees from true north through
// east, 0 to 360. It is ill-conditioned with the sun overhead and at the
// poles, and NaN for a [Place] that does not validate.
func AzimuthDeg(t time.Time, p Place) float64 {
	s := newSite(p)
	cosH, sinH, z := s.local(days(t))
	az := math.Atan2(-sinH, z*s.cosLat-cosH*s.sinLat) / degree
	if az < 0 {
		az += 360
	}
	return az
}

// site is a place with its trigonometry done once.
type site struct {
	sinLat, cosLat, lonRd float64
}

func newSite(p Place) site {
	if p.Validate() != nil {
		return site{math.NaN(), math.NaN(), math.NaN()}
	}
	sin, cos := math.Sincos(p.LatDeg * degree)
	return site{sin, cos, p.LonDeg * degree}
}

// local gives the sun in the frame of the local meridian and equator:
// cos(dec)cos(H), cos(dec)sin(H) and sin(dec), H the hour angle.
func (s site) local(d float64) (cosH, sinH, z float64) {
	sun := apparentAt(d)
	cosH, sinH = s.hour(d, sun)
	return cosH, sinH, sun.z
}

func (s site) hour(d float64, sun apparent) (cosH, sinH float64) {
	sin, cos := math.Sincos(siderealRd(d) + sun.equinoxesRd + s.lonRd)
	return sun.x*cos + sun.y*sin, sun.x*sin - sun.y*cos
}

func (s site) altitudeDeg(d float64) float64 {
	sun := apparentAt(d)
	cosH, _ := s.hour(d, sun)
	sinAlt := s.sinLat*sun.z + s.cosLat*cosH
	// Rounding may take the sine of a sun straight overhead past one.
	sinAlt = max(-1, min(1, sinAlt))
	cosAlt := math.Sqrt(1 - sinAlt*sinAlt)
	// Parallax for a spherical Earth: the flattening changes it by 0.03 arcsec.
	return math.Asin(sinAlt)/degree - parallaxDeg/sun.au*cosAlt
}

// hourAngleDeg is the sun's hour angle, -180 to 180, zero at upper transit.
func (s site) hourAngleDeg(d float64) float64 {
	cosH, sinH, _ := s.local(d)
	return math.Atan2(sinH, cosH) / degree
}
