package civil_test

import (
	"strings"
	"testing"
	"time"

	"gritward/internal/civil"
	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

const path = "ride.start_local"

func zoneOf(t testing.TB, name string) *time.Location {
	t.Helper()
	zone, err := civil.Zone("club.zone", name)
	if err != nil {
		t.Fatal(err)
	}
	return zone
}

// Instants by the IANA time zone database (files europe, northamerica, australasia, asia; Apia's skipped day is its
// "Zone Pacific/Apia" entry of 2011).
func TestInstant(t *testing.T) {
	for _, c := range []struct{ zone, local, want string }{
		{"Europe/London", "2026-12-13T09:00", "2026-12-13T09:00:00Z"},
		{"Europe/London", "2026-03-29T00:59", "2026-03-29T00:59:00Z"},
		{"Europe/London", "2026-03-29T02:00", "2026-03-29T01:00:00Z"},
		{"Europe/London", "2026-10-25T00:59", "2026-10-24T23:59:00Z"},
		{"Europe/London", "2026-10-25T02:00", "2026-10-25T02:00:00Z"},
		{"America/New_York", "2026-03-08T01:59", "2026-03-08T06:59:00Z"},
		{"America/New_York", "2026-03-08T03:00", "2026-03-08T07:00:00Z"},
		{"America/New_York", "2026-11-01T00:59", "2026-11-01T04:59:00Z"},
		{"America/New_York", "2026-11-01T02:00", "2026-11-01T07:00:00Z"},
		{"Australia/Lord_Howe", "2026-04-05T01:29", "2026-04-04T14:29:00Z"},
		{"Australia/Lord_Howe", "2026-04-05T02:00", "2026-04-04T15:30:00Z"},
		{"Australia/Lord_Howe", "2026-10-04T02:30", "2026-10-03T15:30:00Z"},
		{"Pacific/Apia", "2011-12-29T23:59", "2011-12-30T09:59:00Z"},
		{"Pacific/Apia", "2011-12-31T00:00", "2011-12-30T10:00:00Z"},
		{"Asia/Kolkata", "2026-03-29T01:30", "2026-03-28T20:00:00Z"},
		{"Asia/Kathmandu", "2026-10-25T01:30", "2026-10-24T19:45:00Z"},
		{"Etc/UTC", "2024-02-29T23:59", "2024-02-29T23:59:00Z"},
		{"Pacific/Kiritimati", "2026-01-01T00:00", "2025-12-31T10:00:00Z"},
		{"Etc/GMT+12", "2026-01-01T23:59", "2026-01-02T11:59:00Z"},
	} {
		t.Run(c.zone+" "+c.local, func(t *testing.T) {
			at, err := civil.Instant(path, c.local, zoneOf(t, c.zone))
			if err != nil {
				t.Fatal(err)
			}
			if got := at.UTC().Format(time.RFC3339); got != c.want {
				t.Errorf("got %s, want %s", got, c.want)
			}
			if got := at.Format(civil.TimeLayout); got != c.local {
				t.Errorf("the instant is not in the zone: it reads %s", got)
			}
		})
	}
}

func TestInstantAtClockChange(t *testing.T) {
	for _, c := range []struct{ zone, local, want string }{
		{"Europe/London", "2026-03-29T01:00",
			"01:00 does not exist in Europe/London: the clocks skip it that day; take a time up to 00:59 or from 02:00"},
		{"Europe/London", "2026-03-29T01:30",
			"01:30 does not exist in Europe/London: the clocks skip it that day; take a time up to 00:59 or from 02:00"},
		{"Europe/London", "2026-10-25T01:30",
			"01:30 happens twice in Europe/London: the clocks go back that day; take a time up to 00:59 or from 02:00"},
		{"Europe/London", "2026-10-25T01:59",
			"01:59 happens twice in Europe/London: the clocks go back that day; take a time up to 00:59 or from 02:00"},
		{"America/New_York", "2026-03-08T02:59",
			"02:59 does not exist in America/New_York: the clocks skip it that day; take a time up to 01:59 or from 03:00"},
		{"America/New_York", "2026-11-01T01:00",
			"01:00 happens twice in America/New_York: the clocks go back that day; take a time up to 00:59 or from 02:00"},
		{"Australia/Lord_Howe", "2026-04-05T01:45",
			"01:45 happens twice in Australia/Lord_Howe: the clocks go back that day; take a time up to 01:29 or from 02:00"},
		{"Australia/Lord_Howe", "2026-10-04T02:00",
			"02:00 does not exist in Australia/Lord_Howe: the clocks skip it that day; take a time up to 01:59 or from 02:30"},
		{"Pacific/Apia", "2011-12-30T00:00",
			"00:00 does not exist in Pacific/Apia: the clocks skip it that day; take a time up to 2011-12-29T23:59 or from 2011-12-31T00:00"},
		{"Pacific/Apia", "2011-12-30T23:59",
			"23:59 does not exist in Pacific/Apia: the clocks skip it that day; take a time up to 2011-12-29T23:59 or from 2011-12-31T00:00"},
		{"America/Havana", "2026-03-08T00:30",
			"00:30 does not exist in America/Havana: the clocks skip it that day; take a time up to 2026-03-07T23:59 or from 2026-03-08T01:00"},
	} {
		t.Run(c.zone+" "+c.local, func(t *testing.T) {
			at, err := civil.Instant(path, c.local, zoneOf(t, c.zone))
			if !fault.Is(err, pb.Reason_CIVIL_TIME) || !at.IsZero() {
				t.Fatalf("got %v, %v; want a CIVIL_TIME", at, err)
			}
			if want := "the clocks change at that time; ride.start_local: " + c.want; err.Error() != want {
				t.Errorf("got  %s\nwant %s", err, want)
			}
		})
	}
}

func TestBadTimes(t *testing.T) {
	zone := zoneOf(t, "Europe/London")
	for _, local := range []string{
		"", " ", "2026-12-13", "2026-12-13T9:00", "2026-12-13T09:00:00", "2026-12-13T09:00Z", "2026-12-13T09:00+01:00",
		"2026-12-13 09:00", "2026-12-13t09:00", "2026-12-13T24:00", "2026-12-13T23:60", "2026-02-29T09:00", "2026-13-01T09:00",
		"2026-00-10T09:00", "26-12-13T09:00", "12026-12-13T09:00", "-026-12-13T09:00", "2026-12-13T09:00 ", "2026-12-13T09:00\n",
		"2026-12-13T09:00\x00", "2026-12-13T09.00", "２026-12-13T09:00", "\xff\xfe", "09:00", "NaN",
	} {
		_, err := civil.Instant(path, local, zone)
		if !fault.Is(err, pb.Reason_FIELD_INVALID) || !strings.HasSuffix(err.Error(), "is not a time; write it as 2026-12-13T09:00") {
			t.Errorf("Instant(%q) = %v", local, err)
		}
	}
	if _, err := civil.Instant(path, "9:00 tomorrow", zone); err == nil ||
		err.Error() != `the request is not as it must be; ride.start_local: "9:00 tomorrow" is not a time; write it as 2026-12-13T09:00` {
		t.Errorf("got %v", err)
	}
}

func TestDate(t *testing.T) {
	day, err := civil.Date("effective_from", "2024-02-29")
	if err != nil || !day.Equal(time.Date(2024, 2, 29, 0, 0, 0, 0, time.UTC)) {
		t.Errorf("got %v, %v", day, err)
	}
	for _, date := range []string{
		"", "2026-02-29", "2100-02-29", "2026-12-32", "2026-1-1", "2026-12-13T09:00", "13/12/2026", "2026-12-13 ", "2026-04-31",
		"2026-12-13\x00", "\xff", "20261213",
	} {
		_, err := civil.Date("effective_from", date)
		if !fault.Is(err, pb.Reason_FIELD_INVALID) || !strings.Contains(err.Error(), "effective_from: ") ||
			!strings.HasSuffix(err.Error(), "is not a date; write it as 2026-12-13") {
			t.Errorf("Date(%q) = %v", date, err)
		}
	}
}

func TestZone(t *testing.T) {
	for _, name := range []string{"Europe/London", "UTC", "Etc/GMT+12", "America/Argentina/Buenos_Aires"} {
		zone, err := civil.Zone("club.zone", name)
		if err != nil || zone.String() != name {
			t.Errorf("Zone(%q) = %v, %v", name, zone, err)
		}
	}
	for _, name := range []string{
		"", "Local", "local", "localtime", "posixrules", "right/Europe/London", "posix/Europe/London", "Nowhere/City",
		"../x", "../../etc/passwd", "Europe/../Europe/London", "/etc/localtime", "/usr/share/zoneinfo/Europe/London",
		`Europe\London`, "Europe", "Europe/", "Europe/London\x00", "Europe/London ", "europe/london", "\xff", "GMT+25", "+01:00",
	} {
		zone, err := civil.Zone("club.zone", name)
		if zone != nil || !fault.Is(err, pb.Reason_FIELD_INVALID) || !strings.Contains(err.Error(),
			"club.zone: ") || !strings.HasSuffix(err.Error(), "is not a time zone; write one of the IANA names, for example Europe/London") {
			t.Errorf("Zone(%q) = %v, %v", name, zone, err)
		}
	}
}

// What a refusal repeats of a huge field is short.
func TestHugeInput(t *testing.T) {
	huge := strings.Repeat("é", 5<<20)
	_, zoneErr := civil.Zone("z", "E"+huge)
	_, timeErr := civil.Instant("t", huge, time.UTC)
	_, dateErr := civil.Date("d", huge)
	for _, err := range []error{zoneErr, timeErr, dateErr} {
		if err == nil || len(err.Error()) > 400 || !strings.Contains(err.Error(), `éé"... is not a `) {
			t.Errorf("got %.500v", err)
		}
	}
}
