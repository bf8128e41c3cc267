package cli_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/testing/protocmp"

	"gritward/internal/cli"
	pb "gritward/proto/gritward/v1"
)

func TestLocalStart(t *testing.T) {
	for text, want := range map[string]string{
		"2026-12-13 09:00": "2026-12-13T09:00", "2026-12-13T09:00": "2026-12-13T09:00", " 2026-12-13 23:59 ": "2026-12-13T23:59",
		"2026-12-13": "", "13.12.2026 09:00": "", "2026-12-13 9": "", "2026-02-30 09:00": "", "2026-12-13 24:00": "",
		"2026-12-13 09:00Z": "", "": "", "2026-12-13  09:00": "",
	} {
		got, err := cli.LocalStart(text)
		if got != want || (err != nil) != (want == "") {
			t.Errorf("%q: %q, %v; want %q", text, got, err, want)
		}
	}
}

func TestGroupOf(t *testing.T) {
	got, err := cli.GroupOf("steady:23.5:Steady: all welcome")
	if err != nil || got.Id != "steady" || got.PaceKmh != 23.5 || got.Title != "Steady: all welcome" {
		t.Errorf("%v, %v", got, err)
	}
	if got, err = cli.GroupOf("b:28"); err != nil || got.Title != "" {
		t.Errorf("%v, %v", got, err)
	}
	for _, bad := range []string{"", "steady", "steady:", ":24", "steady:fast", "steady:NaN", "steady:Inf", "steady:24km/h", "steady:1e999"} {
		if _, err := cli.GroupOf(bad); err == nil || !strings.Contains(err.Error(), "ID:KMH[:TITLE]") {
			t.Errorf("%q: %v", bad, err)
		}
	}
}

func TestKeepSettings(t *testing.T) {
	before := []*pb.Group{{Id: "steady", Title: "Steady", PaceKmh: 24, MinSize: 3, MaxSize: 9, StartOffsetMin: 10, Leader: "l",
		BackMarker: "b", OverrideReason: "r", Settings: &pb.PaceSettings{}}, {Id: "gone", MaxSize: 5}}
	got := cli.KeepSettings([]*pb.Group{{Id: "new", PaceKmh: 20}, {Id: "steady", PaceKmh: 25}}, before)
	want := []*pb.Group{{Id: "new", PaceKmh: 20}, {Id: "steady", Title: "Steady", PaceKmh: 25, MinSize: 3, MaxSize: 9,
		StartOffsetMin: 10, Leader: "l", BackMarker: "b", OverrideReason: "r", Settings: &pb.PaceSettings{}}}
	if diff := cmp.Diff(want, got, protocmp.Transform()); diff != "" {
		t.Error(diff)
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
