package readiness

import (
	"google.golang.org/protobuf/proto"

	pb "gritward/proto/gritward/v1"
)

// lamp is one that an entry says was charged: by its label, or every one of an end where that is empty.
type lamp struct {
	end   pb.End
	label string
}

// filledIn is a declaration with what it leaves out told by entries from before it.
func filledIn(declared *pb.BikeFacts, before []*pb.CareEntry) override {
	told := override{facts: &pb.BikeFacts{}}
	charged := map[lamp]string{}
	for _, entry := range before {
		if entry.GetWork() == pb.CareEntry_LIGHT_CHARGED {
			charged[lamp{entry.GetEnd(), entry.GetLabel()}] = entry.GetDoneOn()
		}
		told.by(entry)
	}
	told.noLongerNew()
	if chain := told.facts.Chain; chain != nil {
		if declared.GetChain() != nil && declared.Chain.WearPct != nil {
			chain.MeasuredOn = "" // the day of another reading
		} else if declared.GetChain().GetMeasuredOn() != "" {
			chain.WearPct = nil // the reading of another day
			told.log &^= fromChainWear
		}
	}
	proto.Merge(told.facts, declared) // a copy: what is stated there wins, fact by fact
	told.log &^= statedBy(declared)
	for _, light := range told.facts.GetLights() {
		on := max(charged[lamp{light.GetEnd(), light.GetLabel()}], charged[lamp{end: light.GetEnd()}])
		if on != "" && light.GetChargedOn() == "" && isEnd(light.GetEnd()) {
			light.ChargedOn = on
			told.log |= fromCharged.at(light.GetEnd())
		}
	}
	return told
}

// noLongerNew takes back what is true of a part only on the day it was renewed: nobody knows how far it has been ridden
// since, so a declaration from after that has to say. What was measured, and when work was done, stays.
func (o *override) noLongerNew() {
	o.facts.OdometerKm = nil // it has run on
	if o.log.has(fromChainNew) {
		o.facts.Chain.WearPct, o.facts.Chain.MeasuredOn = nil, ""
		o.log &^= fromChainNew
	}
	for _, end := range ends() {
		if b := (brakeEnd{end}).of(o.facts); b != nil {
			b.Glazed, b.RimWear = nil, pb.Brake_RIM_WEAR_UNSPECIFIED // not glazed, as new pads are; within its mark, as a new rim is
		}
		if t := (tyreEnd{end}).of(o.facts); t != nil {
			t.Tread, t.Cuts = pb.Tyre_TREAD_UNSPECIFIED, pb.Tyre_CUTS_UNSPECIFIED
		}
		o.log &^= (fromPadsNew | fromRotorNew | fromRim | fromTyre).at(end)
	}
}

// statedBy are the facts, of those that the log may give, that a declaration states itself.
func statedBy(f *pb.BikeFacts) origin {
	var all origin
	add := func(stated bool, facts origin) {
		if stated {
			all |= facts
		}
	}
	chain, frame := f.GetChain(), f.GetFrame()
	add(chain != nil && chain.WearPct != nil, fromChainWear|fromChainNew)
	add(chain.GetLubricatedOn() != "", fromLubricated)
	add(chain.GetCleanedOn() != "", fromDegreased)
	add(frame.GetWaxedOn() != "", fromWaxed)
	add(frame != nil && frame.ChainstayProtected != nil && frame.CableRubProtected != nil, fromProtected)
	add(f.GetCleaning().GetWashedOn() != "", fromWashed)
	add(f.GetCleaning().GetLookedOverOn() != "", fromLookedOver)
	for _, end := range ends() {
		brake, tyre, guard := brakeEnd{end}.of(f), tyreEnd{end}.of(f), guardEnd{end: end}.of(f)
		add(brake != nil && brake.PadMm != nil, (fromPads | fromPadsNew).at(end))
		add(brake != nil && brake.BeddedIn != nil, fromBedded.at(end))
		add(brake != nil && brake.RotorMm != nil, (fromRotor | fromRotorNew).at(end))
		add(brake.GetRimWear() != pb.Brake_RIM_WEAR_UNSPECIFIED, fromRim.at(end))
		add(tyre.GetTread() != pb.Tyre_TREAD_UNSPECIFIED && tyre.GetCuts() != pb.Tyre_CUTS_UNSPECIFIED, fromTyre.at(end))
		add(tyre.GetLookedOn() != "", fromTyreLooked.at(end))
		add(guard != nil && guard.Secure != nil, fromGuard.at(end))
	}
	for _, b := range bearings() {
		add(b.of(f).GetServicedOn() != "" || b.of(f).GetFeel() != pb.Bearing_FEEL_UNSPECIFIED, bearingOrigin(b.place))
	}
	return all
}
