package expression_test

import (
	"flag"
	"os"
	"testing"

	pb "gritward/proto/gritward/v1"
)

// TestMain adds -update, which writes the expected messages of TestBad anew.
func TestMain(m *testing.M) {
	flag.Bool("update", false, "write testdata/bad.want anew")
	flag.Parse()
	os.Exit(m.Run())
}

func ptr[T any](v T) *T { return &v }

// bike has some facts declared and some not: the second rear lamp has no run-time, the front guard is not told of.
func bike() *pb.BikeFacts {
	return &pb.BikeFacts{
		Title:  "blue winter bike",
		Guards: &pb.Guards{Rear: &pb.Guard{Kind: pb.Guard_FIXED, Flap: ptr(false)}},
		Lights: []*pb.Light{
			{End: pb.End_FRONT, Mode: pb.Light_STEADY, RuntimeMin: ptr(400.0), Lumens: ptr(0.0)},
			{End: pb.End_REAR, Mode: pb.Light_FLASHING, RuntimeMin: ptr(120.0)},
			{End: pb.End_REAR},
		},
		Tyres: &pb.Tyres{Front: &pb.Tyre{WidthMm: ptr(28.0)}},
		Chain: &pb.Chain{Speeds: ptr(int32(11)), WearPct: ptr(0.0), MeasuredOn: "2026-12-01"},
		Carry: &pb.Carry{Tubes: ptr(int32(2)), Pump: ptr(true)},
	}
}

// group needs lights for 60 minutes and is wet; visibility is not known.
func group() *pb.GroupPlan {
	return &pb.GroupPlan{
		Group: "steady", LitMin: 60, TemperatureMinC: ptr(2.0), Ice: pb.CallOff_POSSIBLE, SeasonFrom: "2026-10-01",
		Circumstances: []pb.Circumstance{pb.Circumstance_ALWAYS, pb.Circumstance_WET, pb.Circumstance_DARK},
	}
}
