package readiness

import pb "gritward/proto/gritward/v1"

// origin is a set of facts that come from the care log, not from the declaration.
type origin uint64

// Facts that the log may give. Those of an end take two bits, front then rear; those of a bearing five.
const (
	fromChainWear origin = 1 << iota
	fromChainNew
	fromLubricated
	fromDegreased
	fromWaxed
	fromProtected
	fromWashed
	fromLookedOver
	fromContact
	fromPads
	_
	fromPadsNew
	_
	fromBedded
	_
	fromRotor
	_
	fromRotorNew
	_
	fromRim
	_
	fromTyre
	_
	fromTyreLooked
	_
	fromCharged
	_
	fromGuard
	_
	fromBearing
)

// at is the fact of one end.
func (o origin) at(end pb.End) origin {
	if end == pb.End_REAR {
		return o << 1
	}
	return o
}

// bearingOrigin is the fact of one bearing.
func bearingOrigin(place pb.CareEntry_Place) origin {
	return fromBearing << (place - pb.CareEntry_HEADSET)
}

// has tells whether the log gave any of the facts.
func (o origin) has(facts origin) bool { return o&facts != 0 }

// origin writes where a fact comes from, where that is the log.
func (c *context) origin(w *words, facts origin) {
	if c.log.has(facts) {
		w.add(" (care log)")
	}
}
