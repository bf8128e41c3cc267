package web

import (
	"errors"
	"net/url"
	"strings"

	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// readFacts is what a form declares. A tick answers what is left open of what it says, and nothing else: what is said by
// itself stands. The error names each field that cannot be read.
func readFacts(form url.Values, today string) (*pb.BikeFacts, error) {
	for _, name := range form["no"] { // said no before, and not ticked now
		if form.Get(name) == "" && strings.HasPrefix(name, facts+".carry.") {
			form.Set(name, "false")
		}
	}
	read := &pb.BikeFacts{}
	err := fillIn(read, facts, form)
	ticked := func(what string) bool { return form.Get("look."+what) == "true" }
	if ticked("guards") {
		lookGuards(read)
	}
	if ticked("lights") {
		for _, lamp := range read.Lights {
			if lamp.ChargedOn == "" && lamp.Power != pb.Light_DYNAMO {
				lamp.ChargedOn = today
			}
		}
	}
	if padErr := lookPads(read, form); padErr != nil {
		err = joined(err, padErr)
	}
	if ticked("brakes") {
		lookBrakes(read, today)
	}
	if ticked("tyres") {
		lookTyres(read, today)
	}
	if ticked("bearings") {
		lookBearings(read)
	}
	if ticked("contact") {
		lookContact(read)
	}
	return read, err
}

// joined puts the fields of two refusals together.
func joined(first error, second *fault.Error) error {
	if first == nil {
		return second
	}
	var both *fault.Error
	if errors.As(first, &both) {
		both.Fields = append(both.Fields, second.Fields...)
	}
	return first
}

func lookGuards(read *pb.BikeFacts) {
	for _, guard := range []*pb.Guard{read.GetGuards().GetFront(), read.GetGuards().GetRear()} {
		if guard != nil && guard.Kind != pb.Guard_NONE && guard.Secure == nil {
			guard.Secure = proto.Bool(true)
		}
	}
}

// braking are the brakes that there are.
func braking(read *pb.BikeFacts) (brakes []*pb.Brake) {
	for _, brake := range []*pb.Brake{read.GetBrakes().GetFront(), read.GetBrakes().GetRear()} {
		if brake != nil && brake.Kind != pb.Brake_NONE && brake.Kind != pb.Brake_FIXED_WHEEL {
			brakes = append(brakes, brake)
		}
	}
	return brakes
}

// lookPads writes the thinnest pad for every one without a figure of its own.
func lookPads(read *pb.BikeFacts, form url.Values) *fault.Error {
	thinnest := &pb.Brake{}
	var wrong *fault.Error
	if err := fillIn(thinnest, "look", url.Values{"look.pad_mm": form["look.pad_mm"]}); errors.As(err, &wrong) {
		return wrong
	}
	for _, brake := range braking(read) {
		if brake.PadMm == nil && thinnest.PadMm != nil && (brake.Kind == pb.Brake_RIM || brake.Kind == pb.Brake_DISC) {
			brake.PadMm = proto.Float64(*thinnest.PadMm)
		}
	}
	return nil
}

func lookBrakes(read *pb.BikeFacts, today string) {
	for _, brake := range braking(read) {
		if brake.Contaminated == nil {
			brake.Contaminated = proto.Bool(false)
		}
		if brake.Glazed == nil {
			brake.Glazed = proto.Bool(false)
		}
		if brake.Kind == pb.Brake_RIM && brake.RimWear == pb.Brake_RIM_WEAR_UNSPECIFIED {
			brake.RimWear = pb.Brake_WITHIN
		}
		brake.LookedOn = today
	}
}

func lookTyres(read *pb.BikeFacts, today string) {
	if read.Tyres == nil {
		read.Tyres = &pb.Tyres{}
	}
	for _, tyre := range []**pb.Tyre{&read.Tyres.Front, &read.Tyres.Rear} {
		if *tyre == nil {
			*tyre = &pb.Tyre{}
		}
		if (*tyre).Tread == pb.Tyre_TREAD_UNSPECIFIED {
			(*tyre).Tread = pb.Tyre_GOOD
		}
		if (*tyre).Cuts == pb.Tyre_CUTS_UNSPECIFIED {
			(*tyre).Cuts = pb.Tyre_NONE
		}
		(*tyre).LookedOn = today
	}
}

func lookBearings(read *pb.BikeFacts) {
	if read.Bearings == nil {
		read.Bearings = &pb.Bearings{}
	}
	b := read.Bearings
	for _, bearing := range []**pb.Bearing{&b.Headset, &b.BottomBracket, &b.FrontHub, &b.RearHub, &b.Pedals} {
		if *bearing == nil {
			*bearing = &pb.Bearing{}
		}
		if (*bearing).Feel == pb.Bearing_FEEL_UNSPECIFIED {
			(*bearing).Feel = pb.Bearing_SMOOTH
		}
	}
}

func lookContact(read *pb.BikeFacts) {
	if read.Contact == nil {
		read.Contact = &pb.Contact{}
	}
	c := read.Contact
	if c.BarEndsPlugged == nil {
		c.BarEndsPlugged = proto.Bool(true)
	}
	if c.Saddle == pb.Contact_SADDLE_UNSPECIFIED {
		c.Saddle = pb.Contact_SOUND
	}
	if c.CleatsSound == nil && (c.Pedals == pb.Contact_CLEATS || c.Pedals == pb.Contact_PEDALS_UNSPECIFIED) {
		c.CleatsSound = proto.Bool(true)
	}
}
