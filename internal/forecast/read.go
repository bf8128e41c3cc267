package forecast

import (
	"math"
	"time"

	"gritward/internal/weather"
)

// slack is by how much a gust may lie below the mean wind (m/s), or a dew point above the air (degC), as rounding.
const slack = 0.5

// parameter is a figure of the format: its name, its unit, and what is believed of it, in that unit. The bounds are this
// project's own, a little wider than the weather of any ride.
type parameter struct {
	name, unit  string
	least, most float64
}

var (
	airTemperature = parameter{"air_temperature", "celsius", -40, 45}
	windSpeed      = parameter{"wind_speed", "m/s", 0, 41.6} // 150 km/h
	windFrom       = parameter{"wind_from_direction", "degrees", 0, 360}
	windGust       = parameter{"wind_speed_of_gust", "m/s", 0, 69.4} // 250 km/h
	humidity       = parameter{"relative_humidity", "%", 1, 100}
	dewPoint       = parameter{"dew_point_temperature", "celsius", -60, 45}
	cloud          = parameter{"cloud_area_fraction", "%", 0, 100}
	fog            = parameter{"fog_area_fraction", "%", 0, 100}
	precipitation  = parameter{"precipitation_amount", "mm", 0, 500}
)

// Read reads a forecast. The error is an [*Error]. Parameters that the package does not use are passed over; those that
// it does must have their unit and lie within their bounds. Air temperature and wind must be given at every instant.
func Read(data []byte) (*Forecast, error) {
	read, failed := readFeature(data)
	if failed != nil {
		return nil, failed
	}
	return read, nil
}

func readFeature(data []byte) (*Forecast, *Error) {
	root, failed := parse(data)
	if failed != nil {
		return nil, failed
	}
	if failed := root.is("Feature", "type"); failed != nil {
		return nil, failed
	}
	f := &Forecast{}
	if failed := f.readPoint(root); failed != nil {
		return nil, failed
	}
	issued, failed := root.need("properties", "meta", "updated_at")
	if failed != nil {
		return nil, failed
	}
	if f.IssuedAt, failed = issued.time(); failed != nil {
		return nil, failed
	}
	units, failed := root.need("properties", "meta", "units")
	if failed != nil {
		return nil, failed
	}
	series, failed := root.need("properties", "timeseries")
	if failed != nil {
		return nil, failed
	}
	steps, failed := series.list()
	switch {
	case failed != nil:
		return nil, failed
	case len(steps) == 0:
		return nil, wrong(series.path, "holds no weather")
	case len(steps) > maxSteps:
		return nil, wrong(series.path, "holds %d times, more than the %d that are read", len(steps), maxSteps)
	}
	for _, at := range steps {
		step, failed := readStep(at, units)
		if failed != nil {
			return nil, failed
		}
		if n := len(f.Steps); n > 0 && !step.At.After(f.Steps[n-1].At) {
			return nil, wrong(join(at.path, "time"), "%s is not after the time before it", step.At.Format(time.RFC3339))
		}
		f.Steps = append(f.Steps, step)
	}
	for i, at := range steps {
		if failed := f.Steps[i].readPeriod(at, units, f.Until(i)); failed != nil {
			return nil, failed
		}
	}
	return f, nil
}

func (n node) is(want string, names ...string) *Error {
	at, failed := n.need(names...)
	if failed != nil {
		return failed
	}
	got, failed := at.text()
	if failed == nil && got != want {
		failed = wrong(at.path, "is %.40q, not %q: this is not a forecast for one place", got, want)
	}
	return failed
}

// time reads an instant, RFC 3339.
func (n node) time() (time.Time, *Error) {
	text, failed := n.text()
	if failed != nil {
		return time.Time{}, failed
	}
	at, err := time.Parse(time.RFC3339, text)
	if err != nil || at.Year() < 1970 {
		return time.Time{}, wrong(n.path, "%.40q is not a time as 2026-12-13T10:00:00Z", text)
	}
	return at.UTC(), nil
}

// readPoint reads the place: longitude, latitude, and height where it is given (RFC 7946, section 3.1.1).
func (f *Forecast) readPoint(root node) *Error {
	if failed := root.is("Point", "geometry", "type"); failed != nil {
		return failed
	}
	at, failed := root.need("geometry", "coordinates")
	if failed != nil {
		return failed
	}
	parts, failed := at.list()
	if failed != nil {
		return failed
	}
	if len(parts) < 2 || len(parts) > 3 {
		return wrong(at.path, "must be longitude, latitude and, if known, height")
	}
	if f.LonDeg, failed = parts[0].number(-180, 180); failed != nil {
		return failed
	}
	if f.LatDeg, failed = parts[1].number(-90, 90); failed != nil {
		return failed
	}
	f.AltM = math.NaN()
	if len(parts) == 3 {
		f.AltM, failed = parts[2].number(-500, 9000)
	}
	return failed
}

func readStep(at, units node) (Step, *Error) {
	step := Step{PrecipMM: math.NaN()}
	written, failed := at.need("time")
	if failed != nil {
		return step, failed
	}
	if step.At, failed = written.time(); failed != nil {
		return step, failed
	}
	details, failed := at.need("data", "instant", "details")
	if failed != nil {
		return step, failed
	}
	for _, figure := range []struct {
		parameter
		into   *float64
		needed bool
	}{
		{airTemperature, &step.TempC, true}, {windSpeed, &step.WindKmh, true}, {windFrom, &step.WindFromDeg, true},
		{windGust, &step.GustKmh, false}, {humidity, &step.HumidityPct, false}, {dewPoint, &step.DewPointC, false},
		{cloud, &step.CloudPct, false}, {fog, &step.FogPct, false},
	} {
		v, failed := figure.read(details, units)
		if failed == nil && figure.needed && !Known(v) {
			failed = wrong(join(details.path, figure.name), "is missing")
		}
		if failed != nil {
			return step, failed
		}
		*figure.into = v
	}
	if failed := step.agree(details.path); failed != nil {
		return step, failed
	}
	step.WindKmh, step.GustKmh = kmh(step.WindKmh), kmh(step.GustKmh)
	return step, nil
}

// kmh turns m/s into km/h, to a tenth: the format gives a tenth of a m/s.
func kmh(ms float64) float64 { return math.Round(ms*weather.KmhPerMS*10) / 10 }

// agree holds figures that limit each other together; the wind is still in m/s.
func (s *Step) agree(path string) *Error {
	if s.GustKmh < s.WindKmh-slack {
		return wrong(join(path, windGust.name), "%v m/s is below the mean wind of %v m/s", s.GustKmh, s.WindKmh)
	}
	if s.GustKmh < s.WindKmh {
		s.GustKmh = s.WindKmh
	}
	if s.DewPointC > s.TempC+slack {
		return wrong(join(path, dewPoint.name), "%v °C is above the air's %v °C", s.DewPointC, s.TempC)
	}
	if s.DewPointC > s.TempC {
		s.DewPointC = s.TempC
	}
	return nil
}

// readPeriod reads what falls after the instant: from the shortest period that is given and reaches the next step, else from
// the longest.
func (s *Step) readPeriod(at, units node, until time.Time) *Error {
	data, failed := at.need("data")
	if failed != nil {
		return failed
	}
	for _, period := range []struct {
		name   string
		length time.Duration
	}{{"next_1_hours", time.Hour}, {"next_6_hours", 6 * time.Hour}} {
		after, ok, failed := data.member(period.name)
		if failed != nil {
			return failed
		}
		if !ok {
			continue
		}
		details, ok, failed := after.member("details")
		if failed != nil {
			return failed
		}
		if !ok {
			continue // a period may have a summary alone
		}
		amount, failed := precipitation.read(details, units)
		if failed != nil {
			return failed
		}
		if Known(amount) {
			s.PrecipMM, s.PrecipFor = amount, period.length
		}
		if s.PrecipFor >= until.Sub(s.At) {
			return nil
		}
	}
	return nil
}

// read gives the figure, NaN where it is not there.
func (p parameter) read(details, units node) (float64, *Error) {
	at, ok, failed := details.member(p.name)
	if failed != nil {
		return 0, failed
	}
	if !ok {
		return math.NaN(), nil
	}
	unit, failed := units.need(p.name)
	if failed != nil {
		return 0, failed
	}
	said, failed := unit.text()
	if failed != nil {
		return 0, failed
	}
	if said != p.unit {
		return 0, wrong(unit.path, "is %.20q; only %q is read", said, p.unit)
	}
	return at.number(p.least, p.most)
}
