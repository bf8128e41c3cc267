package readiness

import pb "gritward/proto/gritward/v1"

// stateLimits ask how worn and cut a tyre is, what it is made for, and when it was looked at.
func (e tyreEnd) stateLimits(need *pb.TyresNeed) []limit {
	var limits []limit
	if need.GetTread() != pb.Tyre_TREAD_UNSPECIFIED {
		limits = append(limits, e.tread(need.GetTread()))
	}
	if need.GetCuts() != pb.Tyre_CUTS_UNSPECIFIED {
		limits = append(limits, e.cuts(need.GetCuts()))
	}
	if need.GetHardWearing() {
		limits = append(limits, truth{
			needed: "hard-wearing, with a puncture-resistant layer", good: "hard-wearing", bad: "not hard-wearing", name: "whether hard-wearing",
			declare: "whether the " + e.name() + " tyre is hard-wearing, with a puncture-resistant layer",
			do:      "At the next change fit a hard-wearing " + e.name() + " tyre with a puncture-resistant layer.",
			work:    work{with: jobTyre.at(e.end), alt: "Let the new " + e.name() + " tyre be hard-wearing, with a puncture-resistant layer."},
			get: func(f *pb.BikeFacts) *bool {
				if t := e.of(f); t != nil {
					return t.HardWearing
				}
				return nil
			},
			set: func(f *pb.BikeFacts, v *bool) { e.own(f).HardWearing = v },
		}.limit())
	}
	if need.LookedWithin != nil {
		limits = append(limits, dated{
			did: "checked", within: need.GetLookedWithin().AsDuration(), log: fromTyreLooked.at(e.end), work: work{under: (jobTyre | jobCuts).at(e.end)},
			do:      "Look the " + e.name() + " tyre over, tread and walls, and pick out flints and glass",
			declare: "when the " + e.name() + " tyre was last checked",
			get:     func(f *pb.BikeFacts) string { return e.of(f).GetLookedOn() },
			set:     func(f *pb.BikeFacts, on string) { e.own(f).LookedOn = on },
		}.limit())
	}
	return limits
}

func (e tyreEnd) tread(worst pb.Tyre_Tread) limit {
	return limit{
		needed:  map[bool]string{true: "tread good", false: "tread not finished"}[worst == pb.Tyre_GOOD],
		declare: "the state of the " + e.name() + " tyre's tread", work: work{does: jobTyre.at(e.end)},
		look: func(c *context) answer {
			tread := e.of(c.facts).GetTread()
			return answerOf(tread > 0, tread <= worst)
		},
		declared: func(c *context, w *words) {
			switch e.of(c.facts).GetTread() {
			case pb.Tyre_TREAD_UNSPECIFIED:
				w.add("tread " + notDeclared)
				return
			case pb.Tyre_GOOD:
				w.add("tread good")
			case pb.Tyre_WORN:
				w.add("tread worn")
			default:
				w.add("tread finished")
			}
			c.origin(w, fromTyre.at(e.end))
		},
		todo: func(c *context) string {
			if e.of(c.facts).GetTread() == pb.Tyre_WORN {
				return "Renew the " + e.name() + " tyre before the wear dimples are gone."
			}
			return "Renew the finished " + e.name() + " tyre before the bike is ridden: it can burst."
		},
		mend: func(c *context) { e.own(c.facts).Tread = pb.Tyre_GOOD },
	}
}

func (e tyreEnd) cuts(worst pb.Tyre_Cuts) limit {
	return limit{
		needed:  map[bool]string{true: "no cuts", false: "no deep cuts"}[worst == pb.Tyre_NONE],
		declare: "whether the " + e.name() + " tyre has cuts", work: work{under: jobTyre.at(e.end)},
		doesNow: func(c *context) job {
			if e.of(c.facts).GetCuts() == pb.Tyre_SMALL {
				return jobCuts.at(e.end)
			}
			return jobTyre.at(e.end)
		},
		look: func(c *context) answer {
			cuts := e.of(c.facts).GetCuts()
			return answerOf(cuts > 0, cuts <= worst)
		},
		declared: func(c *context, w *words) {
			switch e.of(c.facts).GetCuts() {
			case pb.Tyre_CUTS_UNSPECIFIED:
				w.add("cuts " + notDeclared)
				return
			case pb.Tyre_NONE:
				w.add("no cuts")
			case pb.Tyre_SMALL:
				w.add("small cuts")
			default:
				w.add("deep cuts")
			}
			c.origin(w, fromTyre.at(e.end))
		},
		todo: func(c *context) string {
			if e.of(c.facts).GetCuts() == pb.Tyre_SMALL {
				return "Clean out the cuts in the " + e.name() + " tyre, or renew it."
			}
			return "Renew the cut " + e.name() + " tyre before the bike is ridden: it can burst."
		},
		mend: func(c *context) { e.own(c.facts).Cuts = pb.Tyre_NONE },
	}
}
