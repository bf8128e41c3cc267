package forecast

import (
	"fmt"
	"math"
	"time"
)

// MaxBytes is the largest forecast read, in bytes. Nine days of the fullest form are some 90 kB.
const MaxBytes = 1 << 20

// maxSteps is the most instants read: nine days by the hour are 216.
const maxSteps = 500

// Forecast is what is expected at one point.
type Forecast struct {
	LatDeg, LonDeg float64   // where, degrees north and east (WGS 84)
	AltM           float64   // height that it is for, m above the sea; NaN: not given
	IssuedAt       time.Time // when the service made it ("updated_at")
	Steps          []Step    // in order of time, at least one
}

// Step is the weather at an instant, and what falls in the period after it. NaN: not given.
type Step struct {
	At          time.Time
	TempC       float64 // air at 2 m, degC, -40 to 45
	WindKmh     float64 // mean wind at 10 m, km/h, 0 to 150
	WindFromDeg float64 // direction it blows from, degrees from north through east, 0 to 360
	GustKmh     float64 // strongest gust, km/h, at least the mean wind, up to 250
	HumidityPct float64 // relative humidity, percent, 1 to 100
	DewPointC   float64 // degC, at most the air's
	CloudPct    float64 // part of the sky under cloud, percent, 0 to 100
	FogPct      float64 // part of the area in fog, percent, 0 to 100
	// PrecipMM falls in PrecipFor from At on, mm of water, 0 to 500; NaN and 0 where no period follows.
	PrecipMM  float64
	PrecipFor time.Duration
}

// Until is when the i-th step ends: at the next one, or for the last one as long after it as it came after the one
// before, one hour at least.
func (f *Forecast) Until(i int) time.Time {
	if i+1 < len(f.Steps) {
		return f.Steps[i+1].At
	}
	last := f.Steps[i].At
	if i > 0 {
		return last.Add(max(time.Hour, last.Sub(f.Steps[i-1].At)))
	}
	return last.Add(time.Hour)
}

// Error is what is wrong with a forecast, and where.
type Error struct {
	// Where is a path in the document, as "properties.timeseries[3].time", or line:column where it is no JSON; empty: the
	// whole of it.
	Where string
	// What is wrong.
	What string
}

// Error implements error.
func (e *Error) Error() string {
	if e.Where == "" {
		return e.What
	}
	return e.Where + ": " + e.What
}

func wrong(where, format string, args ...any) *Error {
	return &Error{Where: where, What: fmt.Sprintf(format, args...)}
}

// Known tells whether a figure of a [Step] was given.
func Known(v float64) bool { return !math.IsNaN(v) }
