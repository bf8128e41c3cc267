package sun

import (
	"fmt"
	"math"
)

// Place is a point on the ground at sea level.
type Place struct {
	LatDeg float64 // geodetic latitude, degrees, north positive, -90 to 90
	LonDeg float64 // longitude, degrees, east positive, -180 to 180
}

// Validate reports which coordinate, if any, is not a number or out of range.
func (p Place) Validate() error {
	if !within(p.LatDeg, 90) {
		return fmt.Errorf("sun: latitude %v is not between -90 and 90 degrees: give decimal degrees, north positive", p.LatDeg)
	}
	if !within(p.LonDeg, 180) {
		return fmt.Errorf("sun: longitude %v is not between -180 and 180 degrees: give decimal degrees, east positive", p.LonDeg)
	}
	return nil
}

// within is false for NaN.
func within(v, limit float64) bool { return math.Abs(v) <= limit }
