package civil_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"gritward/internal/civil"
	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// zones has every kind: whole, half and quarter hours; changes at midnight, at two and at three; half-hour changes;
// skipped days; changes that a government called off; none at all.
func zones() []string {
	return []string{
		"Europe/London", "Europe/Dublin", "Europe/Istanbul", "America/New_York", "America/St_Johns", "America/Havana",
		"America/Sao_Paulo", "America/Caracas", "Australia/Lord_Howe", "Australia/Adelaide", "Pacific/Apia",
		"Pacific/Kwajalein", "Pacific/Chatham", "Pacific/Kiritimati", "Asia/Tehran", "Asia/Kathmandu", "Asia/Gaza",
		"Asia/Pyongyang", "Africa/Casablanca", "Africa/Cairo", "Antarctica/Troll", "Antarctica/Casey", "Etc/UTC", "Etc/GMT+12",
	}
}

// day draws a day from 1973, when the last zone gave up odd seconds, to 2060; half of the time one near a change of the
// zone's clocks.
func day(t *rapid.T, zone *time.Location) time.Time {
	at := time.Date(1973, 1, 1, 12, 0, 0, 0, time.UTC).AddDate(0, 0, rapid.IntRange(0, 87*365).Draw(t, "day"))
	if _, end := at.In(zone).ZoneBounds(); rapid.Bool().Draw(t, "near a change") && !end.IsZero() {
		at = end.UTC().AddDate(0, 0, rapid.IntRange(-1, 1).Draw(t, "off"))
	}
	return time.Date(at.Year(), at.Month(), at.Day(), 0, 0, 0, 0, time.UTC)
}

// shown counts, for each civil minute of a day, the instants at which a clock of the zone shows it: by looking at the
// clock in every minute of the three days around.
func shown(day time.Time, zone *time.Location) map[string][]time.Time {
	found := map[string][]time.Time{}
	date := day.Format(civil.DateLayout)
	for at := day.Add(-24 * time.Hour); at.Before(day.Add(48 * time.Hour)); at = at.Add(time.Minute) {
		if clock := at.In(zone).Format(civil.TimeLayout); clock[:len(date)] == date {
			found[clock] = append(found[clock], at)
		}
	}
	return found
}

// Every civil time of a day has as many matches as a brute look at the clock finds; the one match is that instant, and
// reads as that civil time.
func TestInstantAgreesWithTheClock(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		zone, err := civil.Zone("zone", rapid.SampledFrom(zones()).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		agrees(t, day(t, zone), zone)
	})
}

// The same on days that are known to skip and to repeat times, so that each kind is met whatever is drawn above.
func TestInstantAgreesOnChangeDays(t *testing.T) {
	kinds := map[int]int{}
	for _, date := range []string{"2026-03-29", "2026-06-01", "2026-10-25"} {
		at, err := civil.Date("date", date)
		if err != nil {
			t.Fatal(err)
		}
		for kind, n := range agrees(t, at, zoneOf(t, "Europe/London")) {
			kinds[kind] += n
		}
	}
	if kinds[0] != 12 || kinds[2] != 12 || kinds[1] == 0 {
		t.Errorf("skipped, plain and repeated times, every five minutes: %v", kinds)
	}
}

// fataler is what *testing.T and *rapid.T share.
type fataler interface{ Fatalf(string, ...any) }

// agrees holds every fifth minute of a day against the clock, and counts how often each is shown.
func agrees(t fataler, day time.Time, zone *time.Location) map[int]int {
	kinds, clock := map[int]int{}, shown(day, zone)
	for minute := 0; minute < 24*60; minute += 5 {
		local := day.Add(time.Duration(minute) * time.Minute).Format(civil.TimeLayout)
		at, err := civil.Instant("at", local, zone)
		matches := clock[local]
		kinds[len(matches)]++
		switch {
		case len(matches) != 1 && !fault.Is(err, pb.Reason_CIVIL_TIME):
			t.Fatalf("%s in %s is shown %d times; got %v, %v", local, zone, len(matches), at, err)
		case len(matches) == 1 && (err != nil || !at.Equal(matches[0]) || at.Format(civil.TimeLayout) != local):
			t.Fatalf("%s in %s is %v; got %v, %v", local, zone, matches[0], at, err)
		}
	}
	return kinds
}

// The offsets of a day before and a day after are enough only while no zone changes its clocks twice in 60 hours.
func TestNoTwoChangesWithin60Hours(t *testing.T) {
	changes := 0
	for _, name := range zones() {
		zone := zoneOf(t, name)
		last, change := 0, time.Time{}
		for at := time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC); at.Year() < 2060; at = at.Add(12 * time.Hour) {
			_, offset := at.In(zone).Zone()
			if offset != last && at.Year() > 1970 {
				if changes++; at.Sub(change) < 60*time.Hour {
					t.Errorf("%s changes about %s and again about %s", name, change, at)
				}
				change = at
			}
			last = offset
		}
	}
	if changes < 1000 {
		t.Errorf("only %d changes seen", changes)
	}
}

func FuzzInstant(f *testing.F) {
	for _, local := range []string{"2026-03-29T01:30", "2026-10-25T01:30", "2026-12-13T09:00", "0000-01-01T00:00", "9999-12-31T23:59", "", "\xff"} {
		for _, zone := range []string{"Europe/London", "Pacific/Apia", "Asia/Manila", "Local", "../x"} {
			f.Add(local, zone)
		}
	}
	f.Fuzz(func(t *testing.T, local, name string) {
		zone, err := civil.Zone("zone", name)
		if err != nil {
			if zone != nil || !fault.Is(err, pb.Reason_FIELD_INVALID) {
				t.Fatalf("Zone(%q) = %v, %v", name, zone, err)
			}
			return
		}
		at, err := civil.Instant("at", local, zone)
		switch {
		case err == nil && at.In(zone).Format(civil.TimeLayout) != local:
			t.Fatalf("%q in %s became %s", local, zone, at)
		case err != nil && !fault.Is(err, pb.Reason_FIELD_INVALID) && !fault.Is(err, pb.Reason_CIVIL_TIME):
			t.Fatalf("%q in %s: %v", local, zone, err)
		case err != nil && len(err.Error()) > 800:
			t.Fatalf("%d bytes of error", len(err.Error()))
		}
	})
}

func BenchmarkInstant(b *testing.B) {
	zone := zoneOf(b, "Europe/London")
	for b.Loop() {
		if _, err := civil.Instant("at", "2026-12-13T09:00", zone); err != nil {
			b.Fatal(err)
		}
	}
}
