package cli_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	"gritward/internal/cli"
	pb "gritward/proto/gritward/v1"
)

func TestLocalTime(t *testing.T) {
	for text, want := range map[string]string{
		"2026-12-13 09:00": "2026-12-13T09:00", "2026-12-13T09:00": "2026-12-13T09:00", " 2026-12-13 23:59 ": "2026-12-13T23:59",
		"2026-12-13": "", "13.12.2026 09:00": "", "2026-12-13 9": "", "2026-02-30 09:00": "", "2026-12-13 24:00": "",
		"2026-12-13 09:00Z": "", "": "", "2026-12-13  09:00": "",
	} {
		got, err := cli.LocalTime("start", text)
		if got != want || (err != nil) != (want == "") {
			t.Errorf("%q: %q, %v; want %q", text, got, err, want)
		}
	}
}

func TestGroupOf(t *testing.T) {
	got, _, err := cli.GroupOf("steady:23.5:Steady: all welcome")
	if err != nil || got.Id != "steady" || got.PaceKmh != 23.5 || got.Title != "Steady: all welcome" {
		t.Errorf("%v, %v", got, err)
	}
	if got, _, err = cli.GroupOf("b:28"); err != nil || got.Title != "" {
		t.Errorf("%v, %v", got, err)
	}
	for _, bad := range []string{"", "steady", "steady:", ":24", "steady:fast", "steady:NaN", "steady:Inf", "steady:24km/h", "steady:1e999"} {
		if _, _, err := cli.GroupOf(bad); err == nil || !strings.Contains(err.Error(), "ID:KMH[:TITLE]") {
			t.Errorf("%q: %v", bad, err)
		}
	}
}

func TestGroupOptions(t *testing.T) {
	got, given, err := cli.GroupOf("steady:24:Steady, all welcome,min=4,max=8,after=10,leader=ida-holm,back-marker=none")
	want := &pb.Group{Id: "steady", PaceKmh: 24, Title: "Steady, all welcome", MinSize: 4, MaxSize: 8, StartOffsetMin: 10,
		Leader: "ida-holm"}
	if diff := cmp.Diff(want, got, protocmp.Transform()); diff != "" || err != nil || len(given) != 5 {
		t.Errorf("%s, %v, %v", diff, given, err)
	}
	for text, want := range map[string]string{
		"a:20,mn=4": `"mn" is none of min, max, after, leader, back-marker`, "a:20,min=four": `min="four" is not a whole number`,
		"a:20,min=4,min=5": "stands twice", "a:20,leader=": `leader=""`, "a:20,max=99999999999": "is not a whole number",
		"a:20,max=1.5": "is not a whole number", ",min=4": "is not ID:KMH[:TITLE]",
	} {
		if _, _, err := cli.GroupOf(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

func TestGroupFigures(t *testing.T) {
	got, _, err := cli.GroupOf("easy:18,cda_m2=0.42,push_kmh=3,crr=none")
	want := &pb.Group{Id: "easy", PaceKmh: 18, Settings: &pb.PaceSettings{CdaM2: proto.Float64(0.42), PushKmh: proto.Float64(3)}}
	if diff := cmp.Diff(want, got, protocmp.Transform()); diff != "" || err != nil {
		t.Error(diff, err)
	}
	for text, want := range map[string]string{
		"a:20,crr=smooth": `crr="smooth" is not a number`, "a:20,crr=NaN": `crr="NaN" is not a number`, "a:20,crr=": `crr="" is not a number`,
		"a:20,crr=1": "crr is 1: it must be from 0.001 to 0.03", "a:20,crr=0.005,crr=0.006": "stands twice",
		"a:20,beard_mm=5": `"beard_mm" is none of min, max, after, leader, back-marker, or stands twice; nor is it a figure of its pace`,
	} {
		if _, _, err := cli.GroupOf(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
	before := []*pb.Group{{Id: "easy", Settings: &pb.PaceSettings{Crr: proto.Float64(0.008), MassKg: proto.Float64(95)}}}
	kept, err := cli.KeepSettings([]string{"easy:18,crr=none,cda_m2=0.42"}, before)
	changed := &pb.PaceSettings{CdaM2: proto.Float64(0.42), MassKg: proto.Float64(95)}
	if err != nil || !proto.Equal(kept[0].GetSettings(), changed) {
		t.Errorf("%v, %v; want %v", kept, err, changed)
	}
}

func TestKeepSettings(t *testing.T) {
	before := []*pb.Group{{Id: "steady", Title: "Steady", PaceKmh: 24, MinSize: 3, MaxSize: 9, StartOffsetMin: 10, Leader: "l",
		BackMarker: "b", Settings: &pb.PaceSettings{}}, {Id: "gone", MaxSize: 5}}
	tests := []struct {
		name string
		line string
		want *pb.Group
	}{
		{"nothing said", "steady:25", &pb.Group{Id: "steady", Title: "Steady", PaceKmh: 25, MinSize: 3, MaxSize: 9,
			StartOffsetMin: 10, Leader: "l", BackMarker: "b", Settings: &pb.PaceSettings{}}},
		{"some said", "steady:25:New,min=0,leader=none,back-marker=c", &pb.Group{Id: "steady", Title: "New", PaceKmh: 25,
			MaxSize: 9, StartOffsetMin: 10, BackMarker: "c", Settings: &pb.PaceSettings{}}},
		{"a new group", "new:20,max=6", &pb.Group{Id: "new", PaceKmh: 20, MaxSize: 6}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got, err := cli.KeepSettings([]string{test.line}, before)
			if diff := cmp.Diff([]*pb.Group{test.want}, got, protocmp.Transform()); diff != "" || err != nil {
				t.Error(diff, err)
			}
		})
	}
}

func TestLaterOf(t *testing.T) {
	got, err := cli.LaterOf("12:30 temperature=-3.5 wind=20 wet=true visibility=80 gust=45 wind-from=240 humidity=95 clear-sky=false",
		"2026-12-13T09:00", false)
	want := &pb.HourWeather{FromLocal: "2026-12-13T12:30", Weather: &pb.Weather{TemperatureC: proto.Float64(-3.5),
		WindKmh: proto.Float64(20), Wet: proto.Bool(true), VisibilityM: proto.Float64(80), GustKmh: proto.Float64(45),
		WindFromDeg: proto.Float64(240), HumidityPct: proto.Float64(95), ClearSky: proto.Bool(false)}}
	if diff := cmp.Diff(want, got, protocmp.Transform()); diff != "" || err != nil {
		t.Error(diff, err)
	}
	for text, want := range map[string]string{ // the next morning; a date of its own
		"01:00 temperature=1": "2026-12-14T01:00", "09:00 temperature=1": "2026-12-14T09:00",
		"2026-12-15 07:00 temperature=1": "2026-12-15T07:00",
	} {
		if got, err := cli.LaterOf(text, "2026-12-13T09:00", false); err != nil || got.GetFromLocal() != want {
			t.Errorf("%q: %v, %v; want %s", text, got, err, want)
		}
	}
	for text, want := range map[string]string{
		"": "HH:MM temperature=3", "12:00": "HH:MM temperature=3", "12:00 wet=true": "needs temperature=",
		"12:00 temperature=mild": "is not a number", "12:00 temperature=NaN": "is not a number",
		"12:00 temperature=1 sun=yes": `"sun=yes" is not as in`, "12:00 temperature=1 wet=maybe": `"wet=maybe" is not as in`,
		"noon temperature=1 wet=true": "is not a date and time", "9:00 temperature=1": "is not a date and time",
		"2026-02-30 12:00 temperature=1": "February 2026 has 28 days",
	} {
		if _, err := cli.LaterOf(text, "2026-12-13T09:00", false); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

// TestDateOf: the lengths of months are those of the Gregorian calendar (ISO 8601-1:2019, 4.2.1).
func TestDateOf(t *testing.T) {
	for text, want := range map[string]string{
		"2026-02-30": "February 2026 has 28 days", "2028-02-30": "February 2028 has 29 days",
		"2026-11-31": "November 2026 has 30 days", "2026-12-00": "December 2026 has 31 days",
		"1900-02-29": "February 1900 has 28 days",
		"2026-13-01": "is not a date", "yesterday": "is not a date", "": "is not a date", "2026-2-3": "is not a date",
	} {
		if _, err := cli.DateOf("from", text); err == nil || !strings.Contains(err.Error(), want) ||
			!strings.HasPrefix(err.Error(), "--from ") {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
	if got, err := cli.DateOf("from", "2028-02-29"); err != nil || got.Day() != 29 {
		t.Errorf("%v, %v", got, err)
	}
}

func TestAmountOf(t *testing.T) {
	for text, want := range map[string]float64{"0.4%": 0.4, "0.4": 0.4, " 0.4 % ": 0.4, "-0.1%": -0.1} {
		if got, err := cli.AmountOf("wear", text, "%"); err != nil || got != want {
			t.Errorf("%q: %v, %v", text, got, err)
		}
	}
	for _, bad := range []string{"", "%", "0.4mm", "0,4%", "NaN", "Inf%", "0x1p2", "0.4%%", "1_0"} {
		if _, err := cli.AmountOf("wear", bad, "%"); err == nil || !strings.Contains(err.Error(), "--wear") {
			t.Errorf("%q: %v", bad, err)
		}
	}
}

func TestStopOf(t *testing.T) {
	got, err := cli.StopOf("32.5:30:Mill: the cafe")
	if err != nil || got.AtDistanceM != 32500 || got.Minutes != 30 || got.Title != "Mill: the cafe" {
		t.Errorf("%v, %v", got, err)
	}
	for _, bad := range []string{"", "32", "32:30", "32:30:", "x:30:Mill", "32:half:Mill", "NaN:30:Mill", "32:99999999999:Mill", "32:1.5:Mill"} {
		if _, err := cli.StopOf(bad); err == nil || !strings.Contains(err.Error(), "KM:MIN:TITLE") {
			t.Errorf("%q: %v", bad, err)
		}
	}
}

func TestPlaceOf(t *testing.T) {
	got, err := cli.PlaceOf("hazard", "12.4:Ford: walk")
	if err != nil || got.AtDistanceM != 12400 || got.What != "Ford: walk" {
		t.Errorf("%v, %v", got, err)
	}
	for _, bad := range []string{"", "12", "12:", "Ford:12", "Inf:Ford"} {
		if _, err := cli.PlaceOf("way-out", bad); err == nil || !strings.Contains(err.Error(), "--way-out") {
			t.Errorf("%q: %v", bad, err)
		}
	}
}

func TestPaceOf(t *testing.T) {
	low, high, err := cli.PaceOf("22 - 27.5")
	if err != nil || low != 22 || high != 27.5 {
		t.Errorf("%v, %v, %v", low, high, err)
	}
	for _, bad := range []string{"", "22", "27-22", "a-b", "22-", "-27", "NaN-30", "22-Inf"} {
		if _, _, err := cli.PaceOf(bad); err == nil {
			t.Errorf("%q taken", bad)
		}
	}
}

func TestRolesOf(t *testing.T) {
	got, err := cli.RolesOf("--roles", []string{"member", " Leader "})
	if err != nil || !slices.Equal(got, []pb.Role{pb.Role_MEMBER, pb.Role_LEADER}) {
		t.Errorf("%v, %v", got, err)
	}
	for _, bad := range []string{"", "role-unspecified", "king"} {
		if _, err := cli.RolesOf("--roles", []string{bad}); err == nil {
			t.Errorf("%q taken", bad)
		}
	}
}
