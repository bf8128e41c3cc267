package readiness

import (
	"google.golang.org/protobuf/proto"

	pb "gritward/proto/gritward/v1"
)

// brake: pads and discs that were renewed are new, whatever they measure. New pads are not glazed, and not bedded in until
// an entry says so. Oil and dirt stay as declared: new pads on an oily disc brake no better.
func (o *override) brake(entry *pb.CareEntry) {
	end := entry.GetEnd()
	measured := entry.GetWork() == pb.CareEntry_PADS_MEASURED || entry.GetWork() == pb.CareEntry_ROTOR_MEASURED
	if !isEnd(end) || measured && entry.ThicknessMm == nil {
		return
	}
	own(&o.facts.Brakes)
	b := brakeEnd{end}.own(o.facts)
	switch entry.GetWork() {
	case pb.CareEntry_PADS_MEASURED:
		b.PadMm, b.LookedOn = ptr(entry.GetThicknessMm()), entry.GetDoneOn()
		o.set(end, fromPads, fromPadsNew)
	case pb.CareEntry_PADS_RENEWED:
		b.PadMm, b.Glazed, b.BeddedIn, b.LookedOn = entry.ThicknessMm, ptr(false), ptr(false), entry.GetDoneOn()
		o.set(end, fromPads|fromPadsNew, fromBedded)
	case pb.CareEntry_PADS_BEDDED_IN:
		b.BeddedIn = ptr(true)
		o.set(end, fromBedded, 0)
	case pb.CareEntry_ROTOR_MEASURED:
		b.RotorMm = ptr(entry.GetThicknessMm())
		o.set(end, fromRotor, fromRotorNew)
	case pb.CareEntry_BRAKING_SURFACE_RENEWED:
		b.RotorMm, b.RimWear = entry.ThicknessMm, pb.Brake_WITHIN
		if b.GetKind() == pb.Brake_DISC {
			b.RimWear = pb.Brake_RIM_WEAR_UNSPECIFIED
		}
		o.set(end, fromRotor|fromRotorNew|fromRim, 0)
	}
}

// set says that the log gave facts of an end, and no longer gave others.
func (o *override) set(end pb.End, facts, not origin) {
	o.log = o.log&^not.at(end) | facts.at(end)
}

// lights: the lamp that the entry names was charged, or all of the end where it names none.
func (o *override) lights(entry *pb.CareEntry) {
	lights := make([]*pb.Light, 0, len(o.facts.Lights))
	for _, light := range o.facts.Lights {
		named := entry.GetLabel() == "" || entry.GetLabel() == light.GetLabel()
		if named && light.GetEnd() == entry.GetEnd() && isEnd(entry.GetEnd()) {
			light = proto.CloneOf(light)
			light.ChargedOn = entry.GetDoneOn()
			o.log |= fromCharged.at(entry.GetEnd())
		}
		lights = append(lights, light)
	}
	o.facts.Lights = lights
}

// guard: what was fitted or made secure is secure. A guard where none was declared has still to be described.
func (o *override) guard(entry *pb.CareEntry) {
	if !isEnd(entry.GetEnd()) {
		return
	}
	own(&o.facts.Guards)
	g := guardEnd{end: entry.GetEnd()}.own(o.facts)
	if g.GetKind() == pb.Guard_NONE {
		g.Kind = pb.Guard_KIND_UNSPECIFIED
	}
	g.Secure = ptr(true)
	o.log |= fromGuard.at(entry.GetEnd())
}

// contact: an entry says that tape, saddle or pedals were renewed, not which. Where one of them was declared bad, that is
// the one. Where several were, none is known any more: the member has to declare them.
func (o *override) contact() {
	contact := own(&o.facts.Contact)
	bad := 0
	for _, is := range []bool{contact.GetTape() == pb.Contact_WORN, contact.GetSaddle() == pb.Contact_POOR, contact.CleatsSound != nil && !contact.GetCleatsSound()} {
		if is {
			bad++
		}
	}
	one := bad == 1
	if contact.GetTape() == pb.Contact_WORN {
		contact.Tape = choose(one, pb.Contact_SINGLE, pb.Contact_TAPE_UNSPECIFIED)
	}
	if contact.GetSaddle() == pb.Contact_POOR {
		contact.Saddle = choose(one, pb.Contact_SOUND, pb.Contact_SADDLE_UNSPECIFIED)
	}
	if contact.CleatsSound != nil && !contact.GetCleatsSound() {
		contact.CleatsSound = choose(one, ptr(true), nil)
	}
	o.log |= choose(bad > 0, fromContact, 0)
}

func choose[T any](first bool, a, b T) T {
	if first {
		return a
	}
	return b
}
