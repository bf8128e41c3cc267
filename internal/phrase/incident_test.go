package phrase_test

import (
	"testing"

	"google.golang.org/protobuf/proto"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// TestIncidentConditions tells the weather and light copied from the plan, with their units.
func TestIncidentConditions(t *testing.T) {
	for want, c := range map[string]*pb.IncidentConditions{
		"": nil,
		"4.5 °C, wet road, wind 14 km/h, visibility 300 m, ice likely, dark": {Weather: &pb.Weather{TemperatureC: proto.Float64(4.5), Wet: proto.Bool(true),
			WindKmh: proto.Float64(14), VisibilityM: proto.Float64(300)}, Ice: pb.CallOff_LIKELY, Dark: true},
	} {
		if got := phrase.IncidentConditions(c); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
