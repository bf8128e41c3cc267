package route

import "math"

// Smoothing of elevation: common practice, no source. Recorded elevation
// jitters by metres between points a few metres apart, which would add up to
// ascent that nobody rides. The line is sampled evenly (unknown points filled
// in along straight slopes), averaged with triangular weights over windowM to
// either side, and read off at the points again. Beyond its ends the line is
// taken as turned about its end point, so that a steady slope stays as it is.
const (
	sampleStepM = 10.0
	windowM     = 100.0
	maxSamples  = 200_000 // the step grows on lines longer than 2000 km
)

// smoothElev fills SmoothElevM from known elevations. points must be measured
// and at least two elevations known.
func smoothElev(points []Point) {
	known := make([]Point, 0, len(points))
	for _, p := range points {
		if !math.IsNaN(p.ElevM) {
			known = append(known, p)
		}
	}
	length := points[len(points)-1].DistM
	cells := min(max(2, int(math.Ceil(length/sampleStepM))), maxSamples)
	step := length / float64(cells)
	smooth := triangular(sampled(known, cells, step), reach(cells, step))
	for i := range points {
		at := min(points[i].DistM/step, float64(cells))
		k := min(int(at), cells-1)
		points[i].SmoothElevM = smooth[k] + (at-float64(k))*(smooth[k+1]-smooth[k])
	}
}

// reach is how many samples to either side have weight; it is nil at windowM.
func reach(cells int, step float64) int {
	return max(0, min(int(math.Round(windowM/step))-1, cells/2))
}

// sampled reads the elevation at cells+1 even distances; before the first
// known point and after the last it is held.
func sampled(known []Point, cells int, step float64) []float64 {
	out := make([]float64, cells+1)
	next := 0
	for i := range out {
		at := float64(i) * step
		for next < len(known) && known[next].DistM < at {
			next++
		}
		switch next {
		case 0:
			out[i] = known[0].ElevM
		case len(known):
			out[i] = known[next-1].ElevM
		default:
			a, b := known[next-1], known[next]
			out[i] = a.ElevM + (at-a.DistM)/(b.DistM-a.DistM)*(b.ElevM-a.ElevM)
		}
	}
	return out
}

// triangular averages each sample with h others to either side.
func triangular(in []float64, h int) []float64 {
	last := len(in) - 1
	at := func(i int) float64 {
		switch {
		case i < 0:
			return 2*in[0] - in[-i]
		case i > last:
			return 2*in[last] - in[2*last-i]
		}
		return in[i]
	}
	out := make([]float64, len(in))
	whole := float64((h + 1) * (h + 1))
	for i := range in {
		sum := float64(h+1) * in[i]
		for k := 1; k <= h; k++ {
			sum += float64(h+1-k) * (at(i-k) + at(i+k))
		}
		out[i] = sum / whole
	}
	return out
}

// rises sums the rises and falls of the smoothed line.
func rises(points []Point) (ascentM, descentM float64) {
	for i := 1; i < len(points); i++ {
		d := points[i].SmoothElevM - points[i-1].SmoothElevM
		ascentM += max(0, d)
		descentM += max(0, -d)
	}
	return ascentM, descentM
}

// rawRises sums the rises between successive known elevations, gaps left out.
func rawRises(points []Point) float64 {
	sum, last := 0.0, math.NaN()
	for _, p := range points {
		if p.NewSegment {
			last = math.NaN()
		}
		if d := p.ElevM - last; d > 0 {
			sum += d
		}
		if !math.IsNaN(p.ElevM) {
			last = p.ElevM
		}
	}
	return sum
}
