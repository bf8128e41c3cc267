package policy_test

import (
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // where the machine has no database

	"gritward/internal/policy"
	"gritward/internal/strictyaml"
)

// small is a policy with the season given.
func small(t *testing.T, season string) *policy.Policy {
	t.Helper()
	text := "title: t\nseason: " + season + `
dark: {begins: sunset, margin: 30m}
lights: {reserve: 30m}
poor_visibility_below: 100m
groups: {size: {min: 4, max: 12}, back_places: 3, leader: required, back_marker: required}
declaration: {valid: 28d}
rules:
  - {id: lights, check: lights, when: dark, need: {front: 1, rear: 1}, otherwise: hold}
`
	p, problems := policy.Read("p.yaml", []byte(text))
	if p == nil {
		t.Fatalf("%s:\n%s", season, strictyaml.Format(problems))
	}
	return p
}

func zone(t *testing.T, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

func date(t *testing.T, text string) time.Time {
	t.Helper()
	d, err := time.Parse("2006-01-02", text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestSeasonDays(t *testing.T) {
	for _, c := range []struct {
		season  string
		in, out []string
	}{
		{"{from: 1 Oct, to: 31 Mar}", []string{"2026-10-01", "2026-12-31", "2027-01-01", "2027-03-31"}, []string{"2026-09-30", "2027-04-01", "2026-07-01"}},
		{"{from: 1 March, to: 30 november}", []string{"2026-03-01", "2026-11-30", "2026-07-01"}, []string{"2026-02-28", "2026-12-01"}},
		{"{from: 15 Jan, to: 15 Jan}", []string{"2026-01-15"}, []string{"2026-01-14", "2026-01-16"}},
		{"{from: 16 Jan, to: 15 Jan}", []string{"2026-01-15", "2026-01-16", "2026-07-01"}, nil},
		{"{from: 1 Nov, to: 29 Feb}", []string{"2027-02-28", "2028-02-29"}, []string{"2027-03-01", "2028-03-01"}},
		{"{from: 29 Feb, to: 1 May}", []string{"2027-03-01", "2028-02-29"}, []string{"2027-02-28", "2028-02-28"}},
	} {
		p := small(t, c.season)
		for want, dates := range map[bool][]string{true: c.in, false: c.out} {
			for _, d := range dates {
				if got, err := p.InSeason(date(t, d), time.UTC); err != nil || got != want {
					t.Errorf("%s on %s: %v %v", c.season, d, got, err)
				}
			}
		}
	}
}

// TestClockChanges finds the days of clock changes through the season, and compares with the law that sets them.
//   - London: last Sunday of October and of March, 01:00 GMT (Summer Time Order 2002, art 2).
//   - Berlin, and the rest of the European Union: the same Sundays, 01:00 UTC (Directive 2000/84/EC, arts 2 and 3, from
//     memory).
//   - New York: second Sunday of March and first of November since 2007 (Energy Policy Act of 2005, sec 110, from
//     memory).
//
// The days themselves come from the time-zone database.
func TestClockChanges(t *testing.T) {
	last := func(year int, month time.Month) time.Time {
		d := time.Date(year, month+1, 0, 0, 0, 0, 0, time.UTC)
		return d.AddDate(0, 0, -int(d.Weekday()))
	}
	nth := func(n, year int, month time.Month) time.Time {
		d := time.Date(year, month, 1, 0, 0, 0, 0, time.UTC)
		return d.AddDate(0, 0, (7-int(d.Weekday()))%7+7*(n-1))
	}
	for name, days := range map[string]func(int) (time.Time, time.Time){
		"Europe/London":    func(y int) (time.Time, time.Time) { return last(y, time.October), last(y, time.March) },
		"Europe/Berlin":    func(y int) (time.Time, time.Time) { return last(y, time.October), last(y, time.March) },
		"Europe/Dublin":    func(y int) (time.Time, time.Time) { return last(y, time.October), last(y, time.March) },
		"America/New_York": func(y int) (time.Time, time.Time) { return nth(1, y, time.November), nth(2, y, time.March) },
	} {
		t.Run(name, func(t *testing.T) {
			p, z := small(t, "{from: clocks-back, to: clocks-forward}"), zone(t, name)
			for year := 2007; year <= 2060; year++ {
				back, forward := days(year)
				for _, c := range []struct {
					date time.Time
					want bool
				}{
					{forward, true}, {forward.AddDate(0, 0, 1), false}, {back.AddDate(0, 0, -1), false}, {back, true},
					{time.Date(year, time.January, 1, 0, 0, 0, 0, time.UTC), true}, {time.Date(year, time.December, 31, 0, 0, 0, 0, time.UTC), true},
				} {
					if got, err := p.InSeason(c.date, z); err != nil || got != c.want {
						t.Errorf("%s: %v %v, want %v", c.date.Format("2006-01-02"), got, err, c.want)
					}
				}
			}
			if problems := p.CheckZone(z); len(problems) != 0 {
				t.Errorf("%s", strictyaml.Format(problems))
			}
		})
	}
}

// TestClocksSouth: south of the equator the clocks go back in April and the season does not go over the new year. New
// South Wales: first Sundays of April and October (Standard Time Act 1987, from memory).
func TestClocksSouth(t *testing.T) {
	p, z := small(t, "{from: clocks-back, to: clocks-forward}"), zone(t, "Australia/Sydney")
	for d, want := range map[string]bool{"2026-04-04": false, "2026-04-05": true, "2026-10-04": true, "2026-10-05": false, "2026-12-31": false} {
		if got, err := p.InSeason(date(t, d), z); err != nil || got != want {
			t.Errorf("%s: %v %v", d, got, err)
		}
	}
}

// TestZonesWithoutChanges: the season cannot hang on clocks that do not change, and the error says what to write.
func TestZonesWithoutChanges(t *testing.T) {
	p := small(t, "{from: clocks-back, to: 31 Mar}")
	for _, name := range []string{"UTC", "Asia/Tokyo", "Europe/Istanbul", "Atlantic/Reykjavik"} {
		z := zone(t, name)
		problems := p.CheckZone(z)
		if len(problems) != 1 || problems[0].GetPath() != "season.from" || problems[0].GetLine() != 2 || problems[0].GetColumn() != 16 {
			t.Errorf("%s:\n%s", name, strictyaml.Format(problems))
		}
		if _, err := p.InSeason(date(t, "2027-01-01"), z); err == nil || !strings.Contains(err.Error(), "write a day instead") {
			t.Errorf("%s: %v", name, err)
		}
	}
	if problems := small(t, "{from: 1 Oct, to: 31 Mar}").CheckZone(time.UTC); len(problems) != 0 {
		t.Errorf("days need no clocks:\n%s", strictyaml.Format(problems))
	}
	// In Casablanca the clocks go back for Ramadan, in 2029 twice: in January and in December (time-zone database).
	if _, err := p.InSeason(date(t, "2029-06-01"), zone(t, "Africa/Casablanca")); err == nil {
		t.Error("a day was found for two changes in one year")
	}
}

// TestMidnightChange: where the clocks go back at midnight, the day is the one that they showed when it came. Lebanon
// did so on Sunday 31 October 2021 at 00:00, back to Saturday 23:00 (time-zone database, Asia/Beirut).
func TestMidnightChange(t *testing.T) {
	p, z := small(t, "{from: clocks-back, to: 31 Dec}"), zone(t, "Asia/Beirut")
	for d, want := range map[string]bool{"2021-10-30": false, "2021-10-31": true} {
		if got, err := p.InSeason(date(t, d), z); err != nil || got != want {
			t.Errorf("%s: %v %v", d, got, err)
		}
	}
}

// TestOnlyTheDateCounts: hours and zone of the date do not matter.
func TestOnlyTheDateCounts(t *testing.T) {
	p := small(t, "{from: 1 Oct, to: 31 Mar}")
	late := time.Date(2026, time.September, 30, 23, 59, 0, 0, zone(t, "America/New_York")) // 1 October in UTC
	if got, err := p.InSeason(late, time.UTC); err != nil || got {
		t.Errorf("%v %v", got, err)
	}
}
