package route

import "math"

// antipodalM is the length in metres of the geodesic between nearly opposite
// points, from the sines and cosines of their reduced latitudes and the
// difference of longitude in radians (0 to pi).
//
// Seen from the point nearer a pole, the longitude that a geodesic gains on its
// way to the other point's latitude grows with its azimuth at the start, so
// the azimuth is found by halving (Karney, Algorithms for geodesics, J. Geodesy
// 87, 2013, section 4); longitude and length are by Vincenty's series.
func antipodalM(sinU1, cosU1, sinU2, cosU2, dLon float64) float64 {
	if math.IsNaN(sinU1 + sinU2 + dLon) {
		return math.NaN()
	}
	if math.Abs(sinU1) < math.Abs(sinU2) {
		sinU1, cosU1, sinU2, cosU2 = sinU2, cosU2, sinU1, cosU1
	}
	if sinU1 > 0 {
		sinU1, sinU2 = -sinU1, -sinU2
	}
	sinU1 = min(sinU1, -1e-200) // on the equator, count as south of it
	lo, hi := 0.0, math.Pi
	var g geodesic
	for range 60 {
		az := (lo + hi) / 2
		g = leave(az, sinU1, cosU1, sinU2, cosU2)
		if g.lambda < dLon {
			lo = az
		} else {
			hi = az
		}
	}
	return g.lengthM
}

// geodesic is what one azimuth leads to: longitude gained, radians, and length.
type geodesic struct{ lambda, lengthM float64 }

// leave follows the geodesic that leaves the southern point 1 at an azimuth in
// radians until it comes north-bound to the latitude of point 2.
func leave(az, sinU1, cosU1, sinU2, cosU2 float64) geodesic {
	sin1, cos1 := math.Sincos(az)
	sinA := sin1 * cosU1
	cosSqA := cos1*cos1 + sin1*sin1*sinU1*sinU1
	// cosine of the azimuth at 2, times cosU2; the difference of squares of
	// cosines is that of sines, which loses nothing near the equator.
	cos2 := math.Sqrt(max(0, cos1*cos1*cosU1*cosU1+(sinU1-sinU2)*(sinU1+sinU2)))
	sigma1 := math.Atan2(sinU1, cos1*cosU1)
	sigma2 := math.Atan2(sinU2, cos2)
	omega := math.Atan2(sinA*math.Sin(sigma2), math.Cos(sigma2)) - math.Atan2(sinA*math.Sin(sigma1), math.Cos(sigma1))
	sigma := sigma2 - sigma1
	sinS, cosS := math.Sincos(sigma)
	cos2m := math.Cos(sigma1 + sigma2)
	c := earthF / 16 * cosSqA * (4 + earthF*(4-3*cosSqA))
	lambda := omega - (1-c)*earthF*sinA*(sigma+c*sinS*(cos2m+c*cosS*(2*cos2m*cos2m-1)))
	return geodesic{lambda: lambda, lengthM: arcM(cosSqA, sigma, sinS, cosS, cos2m)}
}
