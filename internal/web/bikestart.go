package web

import (
	"net/url"

	"google.golang.org/protobuf/proto"

	pb "gritward/proto/gritward/v1"
)

// beginning is what a declaration of a new bike begins with: what kind of bike it is, and nothing of the state it is in. All
// of it stands in the form, to be looked at.
type beginning struct {
	ID, Title, Label string
	facts            func() *pb.BikeFacts
}

// beginnings are those to choose from; the first is taken when none is chosen.
var beginnings = []beginning{
	{"winter", "winter bike", "Full guards, rim brakes, 28 mm tyres, battery lamps", func() *pb.BikeFacts {
		return kindOf(pb.Brake_RIM, 28, fullGuards(), pb.Light_RECHARGEABLE)
	}},
	{"disc", "winter bike", "Full guards, disc brakes, 32 mm tyres, battery lamps", func() *pb.BikeFacts {
		return kindOf(pb.Brake_DISC, 32, fullGuards(), pb.Light_RECHARGEABLE)
	}},
	{"dynamo", "dynamo bike", "Full guards, disc brakes, 32 mm tyres, dynamo lamps", func() *pb.BikeFacts {
		return kindOf(pb.Brake_DISC, 32, fullGuards(), pb.Light_DYNAMO)
	}},
	{"bare", "road bike", "No guards, rim brakes, 25 mm tyres, battery lamps", func() *pb.BikeFacts {
		none := func() *pb.Guard { return &pb.Guard{Kind: pb.Guard_NONE} }
		return kindOf(pb.Brake_RIM, 25, &pb.Guards{Front: none(), Rear: none()}, pb.Light_RECHARGEABLE)
	}},
	{"blank", "bike", "Nothing filled in", func() *pb.BikeFacts { return &pb.BikeFacts{} }},
}

// fullGuards are what most winter bikes have, and what the shipped policy asks for.
func fullGuards() *pb.Guards {
	return &pb.Guards{
		Front: &pb.Guard{Kind: pb.Guard_FIXED, Reach: pb.Guard_HUB, Flap: proto.Bool(false)},
		Rear:  &pb.Guard{Kind: pb.Guard_FIXED, Reach: pb.Guard_BELOW_HUB, Flap: proto.Bool(true)},
	}
}

// kindOf is a bike of a kind: one lamp at each end, and nothing that has to be looked at, measured or dated.
func kindOf(brakes pb.Brake_Kind, widthMM float64, guards *pb.Guards, power pb.Light_Power) *pb.BikeFacts {
	brake := func() *pb.Brake {
		made := &pb.Brake{Kind: brakes}
		if brakes == pb.Brake_RIM {
			made.Compound = pb.Brake_RUBBER
		}
		return made
	}
	lamp := func(end pb.End) *pb.Light {
		return &pb.Light{End: end, Mode: pb.Light_STEADY, Power: power, Mount: pb.Light_BIKE}
	}
	return &pb.BikeFacts{
		Guards: guards, Lights: []*pb.Light{lamp(pb.End_FRONT), lamp(pb.End_REAR)}, Brakes: &pb.Brakes{Front: brake(), Rear: brake()},
		Tyres: &pb.Tyres{Front: &pb.Tyre{WidthMm: &widthMM}, Rear: &pb.Tyre{WidthMm: proto.Float64(widthMM)}}, Motor: proto.Bool(false),
	}
}

// beginningOf finds a beginning by its id.
func beginningOf(id string) beginning {
	for _, one := range beginnings {
		if one.ID == id {
			return one
		}
	}
	return beginnings[0]
}

// values are what a form begins with.
func (b beginning) values(title string) url.Values {
	facts := b.facts()
	facts.Title = title
	return filledFrom(facts, "facts")
}
