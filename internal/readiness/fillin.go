package readiness

import (
	"google.golang.org/protobuf/proto"

	pb "gritward/proto/gritward/v1"
)

// filledIn is a declaration with what it leaves out told by entries from before it.
func filledIn(declared *pb.BikeFacts, before []*pb.CareEntry) override {
	told := override{facts: &pb.BikeFacts{}}
	charged := map[pb.End]string{}
	for _, entry := range before {
		if entry.GetWork() == pb.CareEntry_LIGHT_CHARGED {
			charged[entry.GetEnd()] = entry.GetDoneOn()
		}
		told.by(entry)
	}
	if declared.GetChain() != nil && declared.Chain.WearPct != nil && told.facts.Chain != nil {
		told.facts.Chain.MeasuredOn = "" // the day of another reading
	}
	proto.Merge(told.facts, declared) // a copy: what is stated there wins, fact by fact
	told.log &^= statedBy(declared)
	for _, lamp := range told.facts.GetLights() {
		if on := charged[lamp.GetEnd()]; on != "" && lamp.GetChargedOn() == "" && isEnd(lamp.GetEnd()) {
			lamp.ChargedOn = on
			told.log |= fromCharged.at(lamp.GetEnd())
		}
	}
	return told
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
