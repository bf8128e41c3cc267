package server_test

import (
	"google.golang.org/protobuf/proto"

	pb "gritward/proto/gritward/v1"
)

// bike is a bike that is ready, its lamps good for the minutes given.
func bike(title string, lampMin float64) *pb.BikeFacts {
	guard := func() *pb.Guard {
		return &pb.Guard{Kind: pb.Guard_FIXED, Reach: pb.Guard_BELOW_HUB, Flap: proto.Bool(true), Secure: proto.Bool(true)}
	}
	lamp := func(end pb.End) *pb.Light {
		return &pb.Light{End: end, Mode: pb.Light_STEADY, RuntimeMin: &lampMin, Power: pb.Light_RECHARGEABLE,
			Mount: pb.Light_BIKE, Lumens: proto.Float64(100)}
	}
	brake := func() *pb.Brake {
		return &pb.Brake{Kind: pb.Brake_RIM, Compound: pb.Brake_RUBBER, PadMm: proto.Float64(4), RimWear: pb.Brake_WITHIN,
			Contaminated: proto.Bool(false), Glazed: proto.Bool(false)}
	}
	tyre := func() *pb.Tyre {
		return &pb.Tyre{WidthMm: proto.Float64(28), Tread: pb.Tyre_GOOD, Cuts: pb.Tyre_NONE}
	}
	return &pb.BikeFacts{
		Title: title, Guards: &pb.Guards{Front: guard(), Rear: guard()}, Lights: []*pb.Light{lamp(pb.End_FRONT), lamp(pb.End_REAR)},
		Brakes: &pb.Brakes{Front: brake(), Rear: brake()}, Tyres: &pb.Tyres{Front: tyre(), Rear: tyre()},
		Frame: &pb.Frame{DamageOpen: proto.Bool(false)},
	}
}
