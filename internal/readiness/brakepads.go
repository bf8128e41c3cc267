package readiness

import (
	"slices"

	pb "gritward/proto/gritward/v1"
)

// padLimits ask how much is left on the pads and what they are made of. Friction material of a disc pad: renew at 0.5 mm
// (trade, several sources; a cautious limit is 1 mm; some makers give plate and pad together). Of a rim block: to its
// wear line; 1 mm above the holder where it has none (common practice, no source).
func (e brakeEnd) padLimits(need *pb.BrakesNeed) []limit {
	var limits []limit
	if need.DiscPadMm != nil {
		limits = append(limits, e.pads(need.GetDiscPadMm(), pb.Brake_DISC, "disc pads"))
	}
	if need.RimPadMm != nil {
		limits = append(limits, e.pads(need.GetRimPadMm(), pb.Brake_RIM, "rim blocks"))
	}
	if len(need.GetDiscCompound()) > 0 {
		limits = append(limits, e.compound(need.GetDiscCompound()))
	}
	return limits
}

// bedding is how new disc pads are bedded in: about 20 slowings from 19 km/h to walking pace, then about 10 from 32 km/h,
// without locking a wheel (trade).
const bedding = "bed new ones in with about 20 slowings from 20 km/h to walking pace, without locking the wheel"

func (e brakeEnd) pads(mm float64, kind pb.Brake_Kind, what string) limit {
	todo := "Renew the " + e.name() + " " + what
	if kind == pb.Brake_DISC {
		todo += "; " + bedding
	}
	l := least{
		what: what, unit: "mm", min: mm, log: fromPads.at(e.end), work: work{does: jobPads.at(e.end), under: (jobOil | jobRotor | jobBrake).at(e.end)},
		declare: "how thick the " + e.name() + " " + what + " are, without their plate",
		do:      todo + ".",
		get: func(f *pb.BikeFacts) *float64 {
			if b := e.of(f); b != nil {
				return b.PadMm
			}
			return nil
		},
		set: func(f *pb.BikeFacts, v *float64) { e.known(f).PadMm = v },
	}.limit()
	l.kinds = kinds(kind)
	return e.orNew(l, what, fromPadsNew.at(e.end))
}

// orNew makes a limit on wear that a part renewed since the declaration meets, though nobody has measured it.
func (e brakeEnd) orNew(l limit, what string, isNew origin) limit {
	look, declared := l.look, l.declared
	l.look = func(c *context) answer {
		if c.log.has(isNew) {
			return yes
		}
		return look(c)
	}
	l.declared = func(c *context, w *words) {
		if !c.log.has(isNew) {
			declared(c, w)
			return
		}
		w.add("new ")
		w.add(what)
		c.origin(w, isNew)
	}
	return l
}

// compound asks what disc pads are made of. Sintered pads last longer in the wet, resin ones bite earlier and wear faster
// there (trade). A disc marked for resin only must not have sintered pads: there resin will do, and nothing else.
func (e brakeEnd) compound(wanted []pb.Brake_Compound) limit {
	var names []string
	var pads [8]string // by compound
	for number := range pads {
		pads[number] = word(pb.Brake_Compound(number)) + " pads"
	}
	for _, compound := range wanted {
		names = append(names, word(compound))
	}
	list := orList(names)
	return limit{
		needed: "disc pads " + list, declare: "what the " + e.name() + " disc pads are made of",
		kinds: kinds(pb.Brake_DISC),
		work: work{under: jobBrake.at(e.end), with: (jobPads | jobOil | jobRotor).at(e.end),
			alt: "Let the new " + e.name() + " pads be " + list + ", if the disc is not marked for resin pads only."},
		look: func(c *context) answer {
			b := e.of(c.facts)
			if b.GetResinOnly() {
				return answerOf(b.GetCompound() != 0, b.GetCompound() == pb.Brake_RESIN)
			}
			return answerOf(b.GetCompound() != 0, slices.Contains(wanted, b.GetCompound()))
		},
		declared: func(c *context, w *words) {
			b := e.of(c.facts)
			if b.GetCompound() == 0 {
				w.add("compound " + notDeclared)
			} else {
				w.add(pads[b.GetCompound()&7])
			}
			if b.GetResinOnly() {
				w.add(" on a disc for resin pads only")
			}
		},
		todo: func(c *context) string {
			if e.of(c.facts).GetResinOnly() {
				return "Put resin pads on the " + e.name() + " disc: it is marked for them only, so no others belong there, though they wear fast in the wet. " +
					"Look at them after every wet ride, or have the disc changed" + mechanic + "."
			}
			return "At the next change fit " + list + " pads at the " + e.name() + ", if the disc is not marked for resin pads only; " + bedding + "."
		},
		mend: func(c *context) {
			b := e.known(c.facts)
			if b.Compound = wanted[0]; b.GetResinOnly() {
				b.Compound = pb.Brake_RESIN
			}
		},
	}
}
