package roster_test

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	"gritward/internal/roster"
	"gritward/internal/route"
	pb "gritward/proto/gritward/v1"
)

func exported(t *testing.T, ride *pb.Ride, line *pb.RouteLine, groups ...string) string {
	t.Helper()
	file, err := roster.Export(ride, line, winter(t), london(t), took(1.04, 1.04, 1.04, 1.04, 1.04), groups)
	if err != nil {
		t.Fatal(err)
	}
	return string(file)
}

// Every group's track begins and ends when the plan says, stands at the stop as long, and is the line of the ride.
func TestExportKeepsThePlan(t *testing.T) {
	line, ride := becks(t)
	ride.Groups[1].StartOffsetMin = 10
	line.Waypoints = []*pb.Waypoint{{Title: "Ford & weir", What: "after rain", LatDeg: line.LatDeg[5], LonDeg: line.LonDeg[5]}}
	planned, err := roster.Plan(ride, line, winter(t), london(t), took(1.04, 1.04, 1.04, 1.04, 1.04))
	if err != nil {
		t.Fatal(err)
	}
	text := exported(t, ride, line)
	if !strings.Contains(text, "<name>Ford &amp; weir</name><desc>after rain</desc></wpt>") {
		t.Error("the waypoint is lost")
	}
	// What the leader noted is seen on the way, too; a waypoint that was taken as a hazard stands there once, as one.
	first, err := route.Read(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	noted := proto.CloneOf(ride)
	noted.Hazards = []*pb.PlaceNote{{AtDistanceM: 5000, What: "Hump bridge"}, {AtDistanceM: first.Waypoints[0].DistM, What: "Ford & weir: after rain"}}
	noted.WaysOut = []*pb.PlaceNote{{AtDistanceM: 9000, What: "Railway station"}}
	again, err := route.Read(strings.NewReader(exported(t, noted, line)))
	if err != nil {
		t.Fatal(err)
	}
	var places []string
	for _, one := range again.Waypoints {
		places = append(places, fmt.Sprintf("%s %s %.0f", one.Type, one.Name, one.DistM/1000))
	}
	if got, want := strings.Join(places, "; "), "hazard Ford & weir 0; stop Barn 36; hazard Hump bridge 5; way out Railway station 9"; got != want {
		t.Errorf("places %q, want %q", got, want)
	}
	tracks := strings.Split(text, "<trk>")[1:]
	if len(tracks) != len(planned.Groups) {
		t.Fatalf("%d tracks for %d groups", len(tracks), len(planned.Groups))
	}
	times := regexp.MustCompile(`<time>([^<]*)</time>`)
	for i, group := range planned.Groups {
		if want := "<name>Four Becks, " + group.Title + "</name>"; !strings.HasPrefix(tracks[i], want) {
			t.Errorf("track %d does not begin with %s", i, want)
		}
		at := times.FindAllStringSubmatch(tracks[i], -1)
		if len(at) != len(line.LatDeg)+2 {
			t.Errorf("%s: %d times for %d points and a stop", group.Group, len(at), len(line.LatDeg))
		}
		told := func(at time.Time) string { return at.Round(time.Second).UTC().Format(time.RFC3339) }
		if at[0][1] != told(group.StartAt.AsTime()) || at[len(at)-1][1] != told(group.HomeAt.AsTime()) {
			t.Errorf("%s: from %s to %s, planned %s to %s", group.Group, at[0][1], at[len(at)-1][1], told(group.StartAt.AsTime()), told(group.HomeAt.AsTime()))
		}
		for _, point := range group.Points {
			if point.What != "Barn" {
				continue
			}
			for _, want := range []time.Time{point.At.AsTime(), point.LeavesAt.AsTime()} {
				if !strings.Contains(tracks[i], "<time>"+told(want)+"</time><name>Barn</name>") {
					t.Errorf("%s: %s at the barn is not in its track", group.Group, told(want))
				}
			}
		}
	}
	if back, err := route.Read(bytes.NewReader([]byte(text))); err != nil || math.Abs(back.DistanceM-ride.Route.DistanceM) > 0.1 {
		t.Errorf("read back %g m, %v; the ride's route has %g m", back.DistanceM, err, ride.Route.DistanceM)
	}
	if one := exported(t, ride, line, "easy"); strings.Count(one, "<trk>") != 1 || !strings.Contains(one, "Four Becks, Easy") {
		t.Error("one group was asked for")
	}
}

// What cannot be asked for, or is too large, is refused with the field.
func TestExportRefuses(t *testing.T) {
	line, ride := becks(t)
	many := &pb.RouteLine{}
	for i := range 130_000 { // 720 km due north
		many.LatDeg = append(many.LatDeg, 50+float64(i)*5e-5)
		many.LonDeg = append(many.LonDeg, -2.123456789)
		many.ElevM = append(many.ElevM, 100.5)
	}
	for want, ask := range map[string]func() error{
		`groups[1]: the ride has no group "gravel"`: func() error {
			_, err := roster.Export(ride, line, nil, london(t), nil, []string{"easy", "gravel"})
			return err
		},
		"groups: the file would be larger than 24 MiB; ask for fewer groups at a time": func() error {
			_, err := roster.Export(ride, many, nil, london(t), nil, nil)
			return err
		},
	} {
		var wrong *fault.Error
		if err := ask(); !errors.As(err, &wrong) || len(wrong.Fields) != 1 || wrong.Fields[0].Path+": "+wrong.Fields[0].What != want {
			t.Errorf("%v, want %s", err, want)
		}
	}
}
