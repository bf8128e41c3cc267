package demo

import (
	"google.golang.org/protobuf/proto"

	pb "gritward/proto/gritward/v1"
)

func bikes(all ...*pb.BikeFacts) []*pb.BikeFacts { return all }

// with gives a bike with something different about it.
func with(facts *pb.BikeFacts, change func(*pb.BikeFacts)) *pb.BikeFacts {
	change(facts)
	return facts
}

// winter is a bike that is ready: full guards with a flap, a front lamp and two rear lamps, everything looked at in November.
func winter(title string) *pb.BikeFacts {
	guard := func(flap bool, reach pb.Guard_Reach) *pb.Guard {
		return &pb.Guard{
			Kind: pb.Guard_FIXED, Reach: reach, Flap: &flap, Secure: proto.Bool(true),
			ClearanceMm: proto.Float64(7), WidthMm: proto.Float64(38),
		}
	}
	brake := func() *pb.Brake {
		return &pb.Brake{
			Kind: pb.Brake_RIM, Compound: pb.Brake_RUBBER, PadMm: proto.Float64(4), RimWear: pb.Brake_WITHIN,
			LookedOn: "2026-11-21", Contaminated: proto.Bool(false), Glazed: proto.Bool(false),
		}
	}
	tyre := func() *pb.Tyre {
		return &pb.Tyre{
			WidthMm: proto.Float64(28), Tread: pb.Tyre_GOOD, Cuts: pb.Tyre_NONE, HardWearing: proto.Bool(true),
			ClearanceMm: proto.Float64(6), LookedOn: "2026-11-21",
		}
	}
	bearing := func() *pb.Bearing { return &pb.Bearing{ServicedOn: "2026-10-17", Feel: pb.Bearing_SMOOTH} }
	return &pb.BikeFacts{
		Title:      title,
		Guards:     &pb.Guards{Front: guard(true, pb.Guard_HUB), Rear: guard(true, pb.Guard_BELOW_HUB)},
		Lights:     []*pb.Light{lamp(pb.End_FRONT, 150, 400), lamp(pb.End_REAR, 150, 40), lamp(pb.End_REAR, 150, 15)},
		Reflectors: &pb.Reflectors{Front: proto.Bool(false), Rear: proto.Bool(true), Pedals: proto.Bool(true), Wheels: proto.Bool(true)},
		Brakes:     &pb.Brakes{Front: brake(), Rear: brake()},
		Tyres:      &pb.Tyres{Front: tyre(), Rear: tyre(), SummerPairStored: proto.Bool(true)},
		Chain: &pb.Chain{
			Speeds: proto.Int32(10), WearPct: proto.Float64(0.3), MeasuredOn: "2026-11-21", Lubricant: pb.Chain_WET,
			LubricatedOn: "2026-11-28", CleanedOn: "2026-11-21",
		},
		Bearings: &pb.Bearings{Headset: bearing(), BottomBracket: bearing(), FrontHub: bearing(), RearHub: bearing(), Pedals: bearing()},
		Contact: &pb.Contact{
			Tape: pb.Contact_DOUBLE, BarEndsPlugged: proto.Bool(true), Saddle: pb.Contact_SOUND, Pedals: pb.Contact_CLEATS,
			CleatsSound: proto.Bool(true),
		},
		Frame:    &pb.Frame{WaxedOn: "2026-10-17", ChainstayProtected: proto.Bool(true), CableRubProtected: proto.Bool(true), DamageOpen: proto.Bool(false)},
		Cleaning: &pb.Cleaning{WashedOn: "2026-12-06", LookedOverOn: "2026-12-06"},
		Carry: &pb.Carry{
			Tubes: proto.Int32(2), Pump: proto.Bool(true), TyreLevers: proto.Bool(true), MultiTool: proto.Bool(true),
			Phone: proto.Bool(true), ContactCard: proto.Bool(true), WarmLayer: proto.Bool(true),
		},
	}
}

// racer is a bike for summer: no guards, one lamp of each end for an hour.
func racer(title string) *pb.BikeFacts {
	facts := winter(title)
	facts.Guards = &pb.Guards{Front: &pb.Guard{Kind: pb.Guard_NONE}, Rear: &pb.Guard{Kind: pb.Guard_NONE}}
	facts.Lights = []*pb.Light{lamp(pb.End_FRONT, 90, 200), lamp(pb.End_REAR, 90, 20)}
	facts.Tyres.Front.WidthMm, facts.Tyres.Rear.WidthMm = proto.Float64(25), proto.Float64(25)
	return facts
}

// lamp is a steady lamp on the bike, charged on Friday.
func lamp(end pb.End, runtimeMin, lumens float64) *pb.Light {
	return &pb.Light{
		End: end, Mode: pb.Light_STEADY, RuntimeMin: &runtimeMin, Lumens: &lumens,
		ChargedOn: "2026-12-11", Mount: pb.Light_BIKE, Power: pb.Light_RECHARGEABLE,
	}
}

func longLamps(facts *pb.BikeFacts) {
	facts.Lights = []*pb.Light{lamp(pb.End_FRONT, 240, 600), lamp(pb.End_REAR, 300, 40), lamp(pb.End_REAR, 240, 20)}
}

// october puts the dates of a bike back to when its certifying went stale.
func october(facts *pb.BikeFacts) {
	const looked = "2026-10-31"
	for _, light := range facts.Lights {
		light.ChargedOn = looked
	}
	facts.Brakes.Front.LookedOn, facts.Brakes.Rear.LookedOn = looked, looked
	facts.Tyres.Front.LookedOn, facts.Tyres.Rear.LookedOn = looked, looked
	facts.Chain.MeasuredOn, facts.Chain.LubricatedOn, facts.Chain.CleanedOn = looked, looked, looked
	facts.Cleaning.WashedOn, facts.Cleaning.LookedOverOn = looked, looked
}

func shortRearLamp(facts *pb.BikeFacts) {
	facts.Lights = []*pb.Light{lamp(pb.End_FRONT, 180, 400), lamp(pb.End_REAR, 60, 30)}
}

func twoRearLamps(facts *pb.BikeFacts) {
	facts.Lights = []*pb.Light{lamp(pb.End_FRONT, 180, 400), lamp(pb.End_REAR, 60, 30), lamp(pb.End_REAR, 60, 30)}
}

func noRearLamp(facts *pb.BikeFacts) { facts.Lights = facts.Lights[:1] }

func dynamo(facts *pb.BikeFacts) {
	for _, light := range facts.Lights {
		light.Power, light.RuntimeMin, light.ChargedOn = pb.Light_DYNAMO, nil, ""
	}
}

func clipOns(facts *pb.BikeFacts) {
	facts.Guards.Front = &pb.Guard{Kind: pb.Guard_CLIP_ON, Reach: pb.Guard_ABOVE_HUB, Flap: proto.Bool(false), Secure: proto.Bool(true)}
	facts.Guards.Rear = &pb.Guard{Kind: pb.Guard_CLIP_ON, Reach: pb.Guard_ABOVE_HUB, Flap: proto.Bool(false), Secure: proto.Bool(true)}
}

func noFlap(facts *pb.BikeFacts) {
	facts.Guards.Rear.Flap, facts.Guards.Rear.Reach = proto.Bool(false), pb.Guard_ABOVE_HUB
}

func discs(facts *pb.BikeFacts) {
	disc := func() *pb.Brake {
		return &pb.Brake{
			Kind: pb.Brake_DISC, Compound: pb.Brake_SINTERED, PadMm: proto.Float64(2.1), RotorMm: proto.Float64(1.7),
			RotorMinMm: proto.Float64(1.5), LookedOn: "2026-11-21", Contaminated: proto.Bool(false), Glazed: proto.Bool(false),
			BeddedIn: proto.Bool(true),
		}
	}
	facts.Brakes = &pb.Brakes{Front: disc(), Rear: disc()}
	facts.Tyres.Front.WidthMm, facts.Tyres.Rear.WidthMm = proto.Float64(32), proto.Float64(32)
}
