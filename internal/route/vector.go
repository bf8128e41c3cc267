package route

import "math"

// vector is a place in space: metres from the middle of the earth (WGS84). A
// straight line between two is shorter than the way over ground, by 1 cm in
// 10 km, which is how a long way may be passed over at once: see [Route.lay].
type vector struct{ x, y, z float64 }

// vectorOf turns degrees on the ellipsoid into a vector.
func vectorOf(latDeg, lonDeg float64) vector {
	const e2 = earthF * (2 - earthF)
	sin, cos := math.Sincos(latDeg * math.Pi / 180)
	sinL, cosL := math.Sincos(lonDeg * math.Pi / 180)
	normal := earthAM / math.Sqrt(1-e2*sin*sin)
	return vector{normal * cos * cosL, normal * cos * sinL, normal * (1 - e2) * sin}
}

// vectorsOf turns all points into vectors.
func vectorsOf(points []Point) []vector {
	out := make([]vector, len(points))
	for i, p := range points {
		out[i] = vectorOf(p.LatDeg, p.LonDeg)
	}
	return out
}

func (v vector) minus(w vector) vector { return vector{v.x - w.x, v.y - w.y, v.z - w.z} }

func (v vector) dot(w vector) float64 { return v.x*w.x + v.y*w.y + v.z*w.z }

// apartM is the straight distance of two places.
func (v vector) apartM(w vector) float64 {
	d := v.minus(w)
	return math.Sqrt(d.dot(d))
}

// nearest is where the leg from a to b passes nearest: the share of the leg,
// and the metres off.
func (v vector) nearest(a, b vector) (share, offM float64) {
	leg, to := b.minus(a), v.minus(a)
	if sq := leg.dot(leg); sq > 0 {
		share = min(1, max(0, to.dot(leg)/sq))
	}
	return share, v.apartM(vector{a.x + share*leg.x, a.y + share*leg.y, a.z + share*leg.z})
}
