package route

import "math"

// The WGS84 ellipsoid (NGA.STND.0036): semi-major axis in metres, flattening.
const (
	earthAM = 6378137.0
	earthF  = 1 / 298.257223563
	earthBM = earthAM * (1 - earthF)
)

// DistanceM is the length in metres of the geodesic between two points, in
// degrees, on the WGS84 ellipsoid. NaN if a coordinate is not finite.
//
// Source: Vincenty, Direct and Inverse Solutions of Geodesics on the Ellipsoid
// with Application of Nested Equations, Survey Review XXIII 176 (1975). Its
// iteration fails near the antipode; [antipodalM] takes over there.
func DistanceM(lat1, lon1, lat2, lon2 float64) float64 {
	dLon := math.Abs(math.Remainder(lon2-lon1, 360)) * math.Pi / 180
	sinU1, cosU1 := reduced(lat1)
	sinU2, cosU2 := reduced(lat2)
	lambda := dLon
	for range 50 {
		sinL, cosL := math.Sincos(lambda)
		x, y := cosU2*sinL, cosU1*sinU2-sinU1*cosU2*cosL
		sinS := math.Sqrt(x*x + y*y)
		cosS := sinU1*sinU2 + cosU1*cosU2*cosL
		if sinS == 0 && cosS > 0 {
			return 0
		}
		sigma := math.Atan2(sinS, cosS)
		sinA := cosU1 * cosU2 * sinL / sinS
		cosSqA := 1 - sinA*sinA
		cos2m := 0.0 // on the equator: any value, as it is multiplied by 0
		if cosSqA > 1e-12 {
			cos2m = cosS - 2*sinU1*sinU2/cosSqA
		}
		c := earthF / 16 * cosSqA * (4 + earthF*(4-3*cosSqA))
		next := dLon + (1-c)*earthF*sinA*(sigma+c*sinS*(cos2m+c*cosS*(2*cos2m*cos2m-1)))
		if math.Abs(next-lambda) < 1e-14 {
			return arcM(cosSqA, sigma, sinS, cosS, cos2m)
		}
		if lambda = next; lambda > math.Pi {
			break
		}
	}
	return antipodalM(sinU1, cosU1, sinU2, cosU2, dLon)
}

// reduced is the sine and cosine of the reduced latitude.
func reduced(latDeg float64) (sin, cos float64) {
	s, c := math.Sincos(latDeg * math.Pi / 180)
	s *= 1 - earthF
	h := math.Sqrt(s*s + c*c)
	return s / h, c / h
}

// arcM turns an arc on the auxiliary sphere into metres: Vincenty's equations
// 3, 4 and 6. cosSqA is of the azimuth at the equator, sigma the arc, cos2m
// the cosine of twice the arc from the equator to its middle.
func arcM(cosSqA, sigma, sinS, cosS, cos2m float64) float64 {
	u2 := cosSqA * (earthAM*earthAM - earthBM*earthBM) / (earthBM * earthBM)
	a := 1 + u2/16384*(4096+u2*(-768+u2*(320-175*u2)))
	b := u2 / 1024 * (256 + u2*(-128+u2*(74-47*u2)))
	q := 2*cos2m*cos2m - 1
	delta := b * sinS * (cos2m + b/4*(cosS*q-b/6*cos2m*(4*sinS*sinS-3)*(2*q-1)))
	return earthBM * a * (sigma - delta)
}
