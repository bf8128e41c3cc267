package cli_test

import (
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	"gritward/internal/cli"
	pb "gritward/proto/gritward/v1"
)

func TestTold(t *testing.T) {
	for text, want := range map[string]string{
		"there is no clubs/vel/policies/9":               "there is no policy 9",
		"there is no clubs/vel/rides/r1":                 "there is no ride r1",
		"there is no clubs/vel/rides/r1/rosters/4":       "there is no issue 4 of ride r1",
		"there is no clubs/vel/rides/r1/signups/m":       "there is no sign-up of m for ride r1",
		"there is no clubs/vel/members/m/bikes/b":        "there is no bike m/b",
		"there is no clubs/vel/members/m/devices/d":      "there is no device d of m",
		"there is no clubs/vel/members/m/bikes/b/care/3": "there is no entry 3 in the care log of m/b",
		"there is no clubs/vel/members/m":                "there is no member m (yet): an invited person is one after accepting",
		`there is no member "m"`:                         `there is no member "m" (yet): an invited person is one after accepting`,
		"no roster of clubs/vel/rides/r1 is published":   "no roster of ride r1 is published",
		"clubs/vel/colours/red is odd":                   "clubs/vel/colours/red is odd",
		"12 is below min_size 14":                        "12 is below min 14",
		"the ride started at 2026-12-13T09:00":           "the ride started at 2026-12-13 09:00",
		"some_other word, club/s":                        "some_other word, club/s",
		"":                                               "",
	} {
		if got := cli.Told(text); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

func FuzzTold(f *testing.F) {
	f.Add("clubs/a/b/c/")
	f.Add("clubs/")
	f.Add("clubs/a/rides")
	f.Fuzz(func(t *testing.T, text string) {
		got := cli.Told(text) // does not fail, and does not blow up
		if len(got) > 100+60*len(text) {
			t.Errorf("%d characters of %d", len(got), len(text))
		}
	})
}

func TestFieldLine(t *testing.T) {
	create := []string{"ride", "create", "--group", "a:20", "--group", "steady:240", "--stop", "80:10:x", "--gpx", "x/four.gpx",
		"--start", "2026-12-13 09:00", "--later", "12:00 temperature=99"}
	tests := []struct {
		name, path, what string
		line             []string
		want             string
	}{
		{"of a list", "ride.groups[1].pace_kmh", "too fast", create, "--group steady:240: pace in km/h: too fast"},
		{"a whole list", "ride.groups", "too many", create, "--group: too many"},
		{"beyond the list", "ride.groups[7].pace_kmh", "too fast", create, "--group: pace in km/h: too fast"},
		{"an index beyond all", "ride.groups[99999999999999999999].id", "odd", create, "--group: id: odd"},
		{"a stop", "ride.stops[0].at_distance_m", "too far", create, "--stop 80:10:x: distance in m: too far"},
		{"a file's line", "route_gpx", "49:29: cut", create, "x/four.gpx:49:29: cut"},
		{"a file", "route_gpx", "empty", create, "x/four.gpx: empty"},
		{"one value", "ride.start_local", "is past", create, "--start 2026-12-13 09:00: is past"},
		{"a later hour", "ride.conditions.later[0].weather.temperature_c", "too warm", create,
			"--later 12:00 temperature=99: temperature: too warm"},
		{"a flag not given", "ride.meeting_point", "is needed", create, "--meet: is needed"},
		{"another command", "effective_from", "is past", []string{"policy", "adopt", "w.yaml", "--from", "2026-10-01"}, "--from 2026-10-01: is past"},
		{"an argument", "entry.work", "odd", []string{"care", "record", "blue", "washed"}, "washed: odd"},
		{"one of many arguments", "marks[1].member", "is not signed up", []string{"ride", "mark", "r", "home", "a", "b"}, "b: is not signed up"},
		{"an argument that is not there", "marks[9].member", "odd", []string{"ride", "mark", "r", "home", "a"}, "MEMBER: odd"},
		{"a file's part", "facts.lights[0].charged_on", "is to come", []string{"bike", "declare", "b.yaml"}, "b.yaml: charged on: is to come"},
		{"may not", "update_mask", `"may_lead" cannot be changed here; what can: display_name, pace_min_kmh, pace_max_kmh, email, name_public`,
			[]string{"member", "change", "m", "--may-lead"},
			"--may-lead: is not yours to change; you can change --name, --pace, --email, --name-public"},
		{"nothing", "update_mask", "names no field", []string{"member", "change", "m"}, "nothing to change was given"},
		{"not known", "ride.colour", "is red", create, "colour: is red"},
		{"no path", "", "is red", create, "is red"},
		{"of no flag here", "ride.title", "is long", []string{"whoami"}, "title: is long"},
		{"of a list, of no flag here", "ride.groups[1].back_marker", "is not there", []string{"ride", "publish", "r"}, "group 2: back-marker: is not there"},
		{"another field in the text", "ride.groups[1].leader", "ida is named at ride.groups[0].leader already; nobody can be in two places", create,
			"--group steady:240: leader: ida is named at --group a:20: leader already; nobody can be in two places"},
		{"a name of an invite", "invite.display_name", "is needed, or for_member when it is for a further device", []string{"member", "invite"},
			"NAME: is needed, or --device-for when it is for a further device"},
		{"a device of an invite", "invite.for_member", "is odd", []string{"member", "invite", "--device-for", "x"}, "--device-for x: is odd"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if got := cli.FieldLine(test.path, test.what, test.line...); got != test.want {
				t.Errorf("got  %q\nwant %q", got, test.want)
			}
		})
	}
}

func TestCause(t *testing.T) {
	for message, want := range map[string]string{
		`connection error: desc = "transport: Error while dialing: dial tcp 127.0.0.1:1: connect: connection refused"`: "connection refused",
		`connection error: desc = "transport: Error while dialing: dial tcp: lookup nowhere: no such host"`:            "lookup nowhere: no such host",
		"closing": "closing",
	} {
		if got := cli.Cause(message); got != want {
			t.Errorf("%q: %q", message, got)
		}
	}
}

// TestWeatherWords: the eight points are those of the compass, each 45 degrees wide.
func TestWeatherWords(t *testing.T) {
	for deg, want := range map[float64]string{0: "north", 22: "north", 23: "north-east", 90: "east", 135: "south-east",
		180: "south", 225: "south-west", 270: "west", 315: "north-west", 338: "north", 360: "north"} {
		got := cli.WeatherWords(&pb.Weather{WindFromDeg: proto.Float64(deg)})
		if !strings.HasPrefix(got, "wind from the "+want+" (") {
			t.Errorf("%v: %q, want %q", deg, got, want)
		}
	}
	got := cli.WeatherWords(&pb.Weather{TemperatureC: proto.Float64(-15), GustKmh: proto.Float64(65), HumidityPct: proto.Float64(90),
		VisibilityM: proto.Float64(8000), RecentlyWet: proto.Bool(true), ClearSky: proto.Bool(false)})
	want := "−15 °C, gusts 65 km/h, humidity 90 %, visibility 8.0 km, wet in the hours before, a cloudy sky"
	if got != want {
		t.Errorf("got  %q\nwant %q", got, want)
	}
	if got := cli.WeatherWords(&pb.Weather{VisibilityM: proto.Float64(80)}); got != "visibility 80 m" {
		t.Errorf("got %q", got)
	}
	if got := cli.WeatherWords(nil); got != "" {
		t.Errorf("got %q", got)
	}
}
