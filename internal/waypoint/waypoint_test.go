package waypoint_test

import (
	"fmt"
	"strings"
	"testing"

	"gritward/internal/waypoint"
	pb "gritward/proto/gritward/v1"
)

// Each waypoint becomes what its type or else its name says, and what is not taken is told.
func TestTake(t *testing.T) {
	line := track()
	place := func(north int, lon, inner string) string {
		return fmt.Sprintf(`<wpt lat="%.6f" lon="%s">%s</wpt>`, 54+float64(north)*0.00009, lon, inner)
	}
	for _, c := range []struct{ name, waypoint, told, taken string }{
		{"stop with its minutes", place(500, "20.0", "<name>Mill</name><desc>cakes, 25 min</desc><type>stop</type>"),
			"Waypoint Mill, at 5 km: a stop of 25 min", "stop Mill 25"},
		{"stop by its name", place(500, "20.0", "<name>Hill Cafe</name>"),
			"Waypoint Hill Cafe, at 5 km: a stop of 30 min", "stop Hill Cafe 30"},
		{"minutes that cannot be", place(500, "20.0", "<name>Rest, 999 min</name>"),
			"Waypoint Rest, 999 min, at 5 km: a stop of 30 min", "stop Rest, 999 min 30"},
		{"hazard", place(500, "20.0", "<name>Ford</name><desc>floods</desc><type>Hazard</type>"), "Waypoint Ford, at 5 km: a hazard", "hazard Ford: floods"},
		{"hazard by its name", place(500, "20.0", "<name>Nether Sike ford</name>"), "Waypoint Nether Sike ford, at 5 km: a hazard", "hazard Nether Sike ford"},
		{"cattle grid", place(500, "20.0", "<name>Cattle grid</name>"), "Waypoint Cattle grid, at 5 km: a hazard", "hazard Cattle grid"},
		{"a stop named after a hazard", place(500, "20.0", "<name>Ford Farm cafe</name>"), "Waypoint Ford Farm cafe, at 5 km: a stop of 30 min", "stop Ford Farm cafe 30"},
		{"name of a town", place(500, "20.0", "<name>Fordham</name>"),
			"Waypoint Fordham, at 5 km: neither a stop, a hazard nor a way out by its type or name, not taken", ""},
		{"type before name", place(500, "20.0", "<name>Station road</name><type>danger</type>"), "Waypoint Station road, at 5 km: a hazard", "hazard Station road"},
		{"way out", place(500, "20.0", "<name>Station, hourly</name>"), "Waypoint Station, hourly, at 5 km: a way out", "way out Station, hourly"},
		{"bail-out", place(500, "20.0", "<name>Lane end</name><type>bail-out</type>"), "Waypoint Lane end, at 5 km: a way out", "way out Lane end"},
		{"none of these", place(500, "20.0", "<name>Folly</name>"),
			"Waypoint Folly, at 5 km: neither a stop, a hazard nor a way out by its type or name, not taken", ""},
		{"part of a word", place(500, "20.0", "<name>Stopham Forest</name>"),
			"Waypoint Stopham Forest, at 5 km: neither a stop, a hazard nor a way out by its type or name, not taken", ""},
		{"off the route", place(500, "20.02", "<name>Cafe</name>"), "Waypoint Cafe, at 5 km: 1310 m off the route, not taken", ""},
		{"given already", place(1000, "20.0", "<name>Tea room</name>"), "Waypoint Tea room, at 10 km: a stop, there already", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			ride := &pb.Ride{Stops: []*pb.Stop{{Title: "Given", AtDistanceM: 10_200, Minutes: 20}}}
			told := waypoint.Take(ride, strings.NewReader(strings.Replace(line, "<trk>", c.waypoint+"<trk>", 1)))
			var taken []string
			for _, stop := range ride.Stops {
				if stop.Title != "Given" {
					taken = append(taken, fmt.Sprintf("stop %s %d", stop.Title, stop.Minutes))
				}
			}
			for _, note := range ride.Hazards {
				taken = append(taken, "hazard "+note.What)
			}
			for _, note := range ride.WaysOut {
				taken = append(taken, "way out "+note.What)
			}
			if len(told) != 1 || told[0].Words != c.told || told[0].Guessed != (strings.Contains(c.told, "stop of 30 min")) ||
				told[0].Taken != (c.taken != "") || strings.Join(taken, "; ") != c.taken {
				t.Errorf("told %v, taken %q\nwant %q, %q", told, taken, c.told, c.taken)
			}
		})
	}
	if told := waypoint.Take(&pb.Ride{}, strings.NewReader("<gpx/>")); told != nil {
		t.Errorf("a file without a line: %v", told)
	}
}

// track is a line of 18 km due north.
func track() string {
	var b strings.Builder
	b.WriteString(`<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>Line</name><trkseg>`)
	for i := range 2000 {
		fmt.Fprintf(&b, `<trkpt lat="%.6f" lon="20.0"><ele>100</ele></trkpt>`, 54+float64(i)*0.00009)
	}
	b.WriteString(`</trkseg></trk></gpx>`)
	return b.String()
}
