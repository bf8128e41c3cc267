package route

// Limits of what is taken in. All are ours: far above a day's ride, and low
// enough that a hostile file costs little.
const (
	MaxBytes     = 32 << 20  // bytes of a file
	MaxPoints    = 250_000   // track and route points of a file
	MaxWaypoints = 200       // waypoints kept; a note says when there were more
	MinDistanceM = 1         // metres of a line: shorter is one place
	MaxDistanceM = 1_000_000 // metres of a line: longer is a mistake in its coordinates
	MaxNameRunes = 100       // characters kept of a name
	MaxDescRunes = 200       // characters kept of a description
)

// Elevations outside are taken as unknown: below any road, above any summit.
const (
	minElevM = -500
	maxElevM = 9000
)

// Coord is one point as read or stored, not yet measured.
type Coord struct {
	LatDeg     float64 // degrees north, -90 to 90
	LonDeg     float64 // degrees east, -180 to 180
	ElevM      float64 // metres above sea level; NaN unknown
	NewSegment bool    // the recording broke off before this point
}

// Point is one point of a measured line.
type Point struct {
	LatDeg, LonDeg float64 // degrees north and east
	ElevM          float64 // metres as read; NaN unknown
	SmoothElevM    float64 // metres after smoothing; 0 all along if the route has no elevation
	DistM          float64 // metres from the first point, along the line, gaps included
	NewSegment     bool    // the recording broke off before this point; never the first
}

// Waypoint is a named place of the file, laid on the line.
type Waypoint struct {
	Name, Desc, Type string  // as in the file, on one line and shortened
	LatDeg, LonDeg   float64 // degrees north and east
	DistM            float64 // metres along the line at the nearest place (the earlier of two alike)
	OffM             float64 // metres from the line
}

// Bounds is the box around a line, in degrees. A line across the date line has
// MinLonDeg > MaxLonDeg, as in RFC 7946 section 5.2.
type Bounds struct {
	MinLatDeg, MinLonDeg, MaxLatDeg, MaxLonDeg float64
}

// Shape is the form of a line.
type Shape int

// The shapes; see shape.go for the limits.
const (
	PointToPoint Shape = iota // ends elsewhere
	Loop                      // ends where it began
	OutAndBack                // comes back the way it went
)

// String names the shape in words.
func (s Shape) String() string {
	switch s {
	case Loop:
		return "loop"
	case OutAndBack:
		return "out and back"
	}
	return "point to point"
}

// Stretch is a climb, or a steep descent, of the smoothed line.
type Stretch struct {
	FromM, ToM   float64 // metres along the line
	GradientMean float64 // rise over run, negative downhill
	GradientMax  float64 // steepest over 50 m, with the sign of GradientMean
	GainM        float64 // metres gained, negative downhill
}

// Route is a measured line.
type Route struct {
	Name      string // of the track, else of the file; may be empty
	Points    []Point
	Waypoints []Waypoint

	DistanceM         float64 // metres along the line, gaps between segments ridden straight
	SegmentsDistanceM float64 // metres without those gaps
	AscentRawM        float64 // sum of the rises between points as read, gaps left out
	AscentM           float64 // sum of the rises of the smoothed line
	DescentM          float64 // sum of its falls, not negative

	Bounds       Bounds
	HasElevation bool // at least two elevations were known
	Shape        Shape
	Climbs       []Stretch // in order along the line
	Descents     []Stretch // the steep ones, in order along the line
	Notes        []string  // what was assumed, a sentence each
}
