package readiness

import pb "gritward/proto/gritward/v1"

// surfaceLimits ask how worn rims and discs are. A rim: its wear groove or dimple is still to be seen and no scoring
// catches a fingernail (makers' manuals). A disc: the least thickness etched on it, where there is one; else 1.5 mm
// (trade; others 1.52 and 1.55).
func (e brakeEnd) surfaceLimits(need *pb.BrakesNeed) []limit {
	var limits []limit
	if need.GetRimWithin() {
		limits = append(limits, e.rim())
	}
	if need.GetRotorAsEtched() || need.RotorMm != nil {
		limits = append(limits, e.orNew(e.rotor(need), "disc", fromRotorNew.at(e.end)))
	}
	return limits
}

func (e brakeEnd) rim() limit {
	return limit{
		needed: "rim within its wear mark", good: "rim within its wear mark", declare: "whether the " + e.name() + " rim is within its wear mark",
		kinds: kinds(pb.Brake_RIM), work: work{under: jobBrake.at(e.end)},
		look: func(c *context) answer {
			wear := e.of(c.facts).GetRimWear()
			return answerOf(wear != pb.Brake_RIM_WEAR_UNSPECIFIED, wear == pb.Brake_WITHIN)
		},
		declared: func(c *context, w *words) {
			switch e.of(c.facts).GetRimWear() {
			case pb.Brake_WITHIN:
				w.add("rim within its wear mark")
			case pb.Brake_WORN:
				w.add("rim worn")
			default:
				w.add("rim wear " + notDeclared)
				return
			}
			c.origin(w, fromRim.at(e.end))
		},
		todo: always("Have the worn " + e.name() + " rim or its wheel renewed by a mechanic before the bike is ridden: a worn rim can burst."),
		mend: func(c *context) { e.known(c.facts).RimWear = pb.Brake_WITHIN },
	}
}

// rotor asks how thick a disc is. What is etched on it comes before the rule's own figure, which is for discs on which
// nothing is etched; a rule without a figure asks nothing of them but that the mark be declared.
func (e brakeEnd) rotor(need *pb.BrakesNeed) limit {
	needed := "disc at least as thick as etched on it"
	switch {
	case need.RotorMm != nil && need.GetRotorAsEtched():
		needed += ", else " + decimal(need.GetRotorMm()) + " mm"
	case need.RotorMm != nil:
		needed = "disc at least " + decimal(need.GetRotorMm()) + " mm where nothing is etched on it"
	}
	return limit{
		needed: needed, declare: "how thick the " + e.name() + " disc is at its thinnest, and the least thickness etched on it",
		kinds: kinds(pb.Brake_DISC), work: work{does: jobRotor.at(e.end), under: jobBrake.at(e.end)},
		look: func(c *context) answer {
			b := e.of(c.facts)
			if b == nil {
				return unknown
			}
			least := b.RotorMinMm
			if least == nil {
				least = need.RotorMm
			} else if !need.GetRotorAsEtched() {
				return moot
			}
			return answerOf(b.RotorMm != nil && least != nil, least != nil && b.GetRotorMm() >= *least)
		},
		declared: func(c *context, w *words) {
			b := e.of(c.facts) // there: an end of which nothing is known says only that
			sayMm(w, "disc", b.RotorMm)
			if b.RotorMinMm != nil {
				w.add(" of ")
				w.measure(b.GetRotorMinMm(), " mm etched")
			} else {
				w.add(", etched minimum " + notDeclared)
			}
			c.origin(w, fromRotor.at(e.end))
		},
		todo: always("Have the worn " + e.name() + " disc renewed, and its pads with it; " + bedding + "."),
		mend: func(c *context) {
			b := e.known(c.facts)
			if b.RotorMinMm == nil && need.RotorMm == nil {
				b.RotorMinMm = ptr(1.5)
			}
			b.RotorMm = ptr(max(b.GetRotorMinMm(), need.GetRotorMm()))
		},
	}
}
