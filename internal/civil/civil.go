// Package civil turns dates and times as people write them into instants, and refuses those that a clock change skips
// or repeats.
package civil

import (
	"fmt"
	"sync"
	"time"
	_ "time/tzdata" // so that a machine without a time-zone database reckons the same

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// Layouts of a civil time and a civil date (ISO 8601, local time to the minute).
const (
	TimeLayout = "2006-01-02T15:04"
	DateLayout = "2006-01-02"
)

// Zone loads an IANA time zone. The error is a FIELD_INVALID about the field at path.
func Zone(path, name string) (*time.Location, error) {
	if zone, ok := zones.Load(name); ok {
		return zone.(*time.Location), nil
	}
	// IANA names begin with a capital. What a machine keeps beside them ("localtime", "right/...") does not, and means
	// something else on another machine, as does Go's own "Local".
	capital := name != "" && name[0] >= 'A' && name[0] <= 'Z'
	zone, err := time.LoadLocation(name)
	if err != nil || !capital || name == "Local" {
		return nil, fault.Invalid(path, "%s is not a time zone; write one of the IANA names, for example Europe/London", quote(name))
	}
	zones.Store(name, zone)
	return zone, nil
}

// zones are those that were loaded, by name: the library reads a file each time.
var zones sync.Map

// Instant reads YYYY-MM-DDTHH:MM as a civil time of the zone. A time that no clock shows, or that clocks show twice, is
// a CIVIL_TIME fault about the field at path that says which times would do.
func Instant(path, local string, zone *time.Location) (time.Time, error) {
	wall, err := time.Parse(TimeLayout, local)
	if err != nil || wall.Format(TimeLayout) != local { // time.Parse lets 9:00 pass for 09:00
		return time.Time{}, fault.Invalid(path, "%s is not a time; write it as 2026-12-13T09:00", quote(local))
	}
	matches := instants(wall, zone)
	switch len(matches) {
	case 1:
		return matches[0], nil
	case 0:
		return time.Time{}, clockFault(path, "%s does not exist in %s: the clocks skip it that day; take a time %s",
			wall.Format("15:04"), zone, outside(wall, zone))
	default:
		return time.Time{}, clockFault(path, "%s happens twice in %s: the clocks go back that day; take a time %s",
			wall.Format("15:04"), zone, outside(wall, zone))
	}
}

// Date reads YYYY-MM-DD. The error is a FIELD_INVALID about the field at path.
func Date(path, date string) (time.Time, error) {
	day, err := time.Parse(DateLayout, date)
	if err != nil {
		return time.Time{}, fault.Invalid(path, "%s is not a date; write it as 2026-12-13", quote(date))
	}
	return day, nil
}

// instants finds every instant whose civil time in the zone is wall. Offsets lie within 16 hours of UTC, and no zone of
// the tz database has two changes within 60 hours (1850 to 2100), so the offsets of a day before and a day after are all
// that can matter.
func instants(wall time.Time, zone *time.Location) []time.Time {
	var found []time.Time
	for _, probe := range []time.Duration{-24 * time.Hour, 24 * time.Hour} {
		_, offset := wall.Add(probe).In(zone).Zone()
		at := wall.Add(-time.Duration(offset) * time.Second).In(zone)
		if at.Format(TimeLayout) != wall.Format(TimeLayout) {
			continue
		}
		if len(found) == 0 || !found[0].Equal(at) {
			found = append(found, at)
		}
	}
	return found
}

// outside says which civil times around a clock change are plain.
func outside(wall time.Time, zone *time.Location) string {
	from, to := wall, wall
	for i := 0; i < 24*60 && len(instants(from, zone)) != 1; i++ {
		from = from.Add(-time.Minute)
	}
	for i := 0; i < 24*60 && len(instants(to, zone)) != 1; i++ {
		to = to.Add(time.Minute)
	}
	layout := "15:04"
	if from.Format(DateLayout) != to.Format(DateLayout) {
		layout = TimeLayout
	}
	return fmt.Sprintf("up to %s or from %s", from.Format(layout), to.Format(layout))
}

// quote shows what was written, or its beginning.
func quote(text string) string {
	if len(text) > 80 {
		return fmt.Sprintf("%.80q...", text)
	}
	return fmt.Sprintf("%q", text)
}

func clockFault(path, format string, args ...any) error {
	what := fmt.Sprintf(format, args...)
	return &fault.Error{
		Reason:  pb.Reason_CIVIL_TIME,
		Message: "the clocks change at that time",
		Fields:  []fault.Field{{Path: path, What: what}},
	}
}
