package readiness

import (
	"google.golang.org/protobuf/proto"

	pb "gritward/proto/gritward/v1"
)

// override is facts that entries of a care log change one after the other, and which of them they gave.
type override struct {
	facts *pb.BikeFacts
	log   origin
}

// own is a part that may be changed: a copy, or a new one where there was none.
func own[T any, M interface {
	*T
	proto.Message
}](part *M) M {
	if *part == nil {
		*part = new(T)
	} else {
		*part = proto.CloneOf(*part)
	}
	return *part
}

// by applies one entry. Work that says nothing about the facts, or not of which end, changes nothing; a reading of the
// odometer counts with any work.
func (o *override) by(entry *pb.CareEntry) {
	if entry.OdometerKm != nil {
		o.facts.OdometerKm = ptr(entry.GetOdometerKm())
	}
	switch entry.GetWork() {
	case pb.CareEntry_CHAIN_MEASURED, pb.CareEntry_CHAIN_RENEWED, pb.CareEntry_CHAIN_LUBRICATED, pb.CareEntry_CHAIN_DEGREASED:
		o.chain(entry)
	case pb.CareEntry_PADS_MEASURED, pb.CareEntry_PADS_RENEWED, pb.CareEntry_PADS_BEDDED_IN, pb.CareEntry_ROTOR_MEASURED,
		pb.CareEntry_BRAKING_SURFACE_RENEWED:
		o.brake(entry)
	case pb.CareEntry_TYRE_RENEWED, pb.CareEntry_TYRE_LOOKED_OVER:
		o.tyre(entry)
	case pb.CareEntry_BEARING_SERVICED:
		o.bearing(entry)
	case pb.CareEntry_FRAME_WAXED, pb.CareEntry_FRAME_PROTECTED:
		o.frame(entry)
	case pb.CareEntry_WASHED, pb.CareEntry_LOOKED_OVER:
		o.cleaning(entry)
	case pb.CareEntry_LIGHT_CHARGED:
		o.lights(entry)
	case pb.CareEntry_GUARD_FITTED:
		o.guard(entry)
	case pb.CareEntry_CONTACT_RENEWED:
		o.contact()
	}
}

// chain: one that was renewed measures 0 and was measured so that day.
func (o *override) chain(entry *pb.CareEntry) {
	if entry.GetWork() == pb.CareEntry_CHAIN_MEASURED && entry.WearPct == nil {
		return
	}
	chain := own(&o.facts.Chain)
	switch entry.GetWork() {
	case pb.CareEntry_CHAIN_MEASURED:
		chain.WearPct, chain.MeasuredOn = ptr(entry.GetWearPct()), entry.GetDoneOn()
		o.log = o.log&^fromChainNew | fromChainWear
	case pb.CareEntry_CHAIN_RENEWED:
		chain.WearPct, chain.MeasuredOn = ptr(0.0), entry.GetDoneOn()
		o.log = o.log&^fromChainWear | fromChainNew
	case pb.CareEntry_CHAIN_LUBRICATED:
		chain.LubricatedOn = entry.GetDoneOn()
		o.log |= fromLubricated
	case pb.CareEntry_CHAIN_DEGREASED:
		chain.CleanedOn = entry.GetDoneOn()
		o.log |= fromDegreased
	}
}

// tyre: a new one is taken to be of the width and make declared; another kind has to be declared. That a tyre was looked
// over says when, not what was found: cuts stay as declared.
func (o *override) tyre(entry *pb.CareEntry) {
	if !isEnd(entry.GetEnd()) {
		return
	}
	tyres := own(&o.facts.Tyres)
	tyre := made(&tyres.Front)
	if entry.GetEnd() == pb.End_REAR {
		tyre = made(&tyres.Rear)
	}
	tyre.LookedOn = entry.GetDoneOn()
	o.log |= fromTyreLooked.at(entry.GetEnd())
	if entry.GetWork() == pb.CareEntry_TYRE_RENEWED {
		tyre.Tread, tyre.Cuts = pb.Tyre_GOOD, pb.Tyre_NONE
		o.log |= fromTyre.at(entry.GetEnd())
	}
}

func isEnd(end pb.End) bool { return end == pb.End_FRONT || end == pb.End_REAR }

func (o *override) bearing(entry *pb.CareEntry) {
	for _, b := range bearings() {
		if b.place == entry.GetBearing() {
			own(&o.facts.Bearings)
			*b.field(o.facts.Bearings) = &pb.Bearing{ServicedOn: entry.GetDoneOn(), Feel: pb.Bearing_SMOOTH}
			o.log |= bearingOrigin(b.place)
		}
	}
}

func (o *override) frame(entry *pb.CareEntry) {
	frame := own(&o.facts.Frame)
	if entry.GetWork() == pb.CareEntry_FRAME_WAXED {
		frame.WaxedOn = entry.GetDoneOn()
		o.log |= fromWaxed
		return
	}
	frame.ChainstayProtected, frame.CableRubProtected = ptr(true), ptr(true)
	o.log |= fromProtected
}

// cleaning: that a bike was looked over says when, not that what was open has been put right; that is certified.
func (o *override) cleaning(entry *pb.CareEntry) {
	cleaning := own(&o.facts.Cleaning)
	if entry.GetWork() == pb.CareEntry_WASHED {
		cleaning.WashedOn = entry.GetDoneOn()
		o.log |= fromWashed
		return
	}
	cleaning.LookedOverOn = entry.GetDoneOn()
	o.log |= fromLookedOver
}
