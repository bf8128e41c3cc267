package readiness

import pb "gritward/proto/gritward/v1"

// covered asks for a guard.
func (e guardEnd) covered() limit {
	needed := "any guard"
	if e.cover == pb.GuardsNeed_FULL {
		needed = "full guard"
	}
	return limit{
		needed: needed, declare: "how the " + endWord(e.end) + " guard is fixed",
		look: func(c *context) answer {
			kind := e.of(c.facts).GetKind()
			return answerOf(kind != pb.Guard_KIND_UNSPECIFIED, kind == pb.Guard_FIXED || kind == pb.Guard_CLIP_ON && e.cover == pb.GuardsNeed_ANY)
		},
		declared: func(c *context, w *words) { w.add(kindWords(e.of(c.facts).GetKind())) },
		todo:     always("Fit a " + e.fit() + "."), work: work{does: jobGuard.at(e.end)},
		mend: func(c *context) { e.mended(c) },
	}
}

// flapped asks for a flap on the guard.
func (e guardEnd) flapped() limit {
	return e.partOf(limit{
		needed: "flap", work: work{under: jobGuard.at(e.end)}, declare: "whether the " + endWord(e.end) + " guard has a flap",
		look: func(c *context) answer {
			g := e.of(c.facts)
			return answerOf(g != nil && g.Flap != nil, g.GetFlap())
		},
		declared: func(c *context, w *words) { w.add(flapWords(e.of(c.facts))) },
		todo:     always("Fit a flap to the " + endWord(e.end) + " guard."),
		mend:     func(c *context) { e.mended(c).Flap = ptr(true) },
	})
}

// toHub asks how far down the guard or its flap reaches.
func (e guardEnd) toHub() limit {
	return e.partOf(limit{
		needed: "reaching the hub", work: work{under: jobGuard.at(e.end)}, declare: "how far down the " + endWord(e.end) + " guard reaches",
		look: func(c *context) answer {
			reach := e.of(c.facts).GetReach()
			return answerOf(reach != pb.Guard_REACH_UNSPECIFIED, reach == pb.Guard_HUB || reach == pb.Guard_BELOW_HUB)
		},
		declared: func(c *context, w *words) { w.add(reachWords(e.of(c.facts))) },
		todo:     always("Lengthen the " + endWord(e.end) + " guard or its flap until it reaches at least as low as the hub."),
		mend:     func(c *context) { e.mended(c).Reach = pb.Guard_HUB },
	})
}

// partOf makes a limit on a part that an end without a guard does not have.
func (e guardEnd) partOf(l limit) limit {
	look := l.look
	l.look = func(c *context) answer {
		if e.of(c.facts).GetKind() == pb.Guard_NONE {
			return no
		}
		return look(c)
	}
	return l
}

// secure asks that a guard that is fitted is not loose. No guard cannot come loose.
func (e guardEnd) secure() limit {
	return limit{
		needed: "secure if fitted", work: work{under: jobGuard.at(e.end)}, declare: "whether the " + endWord(e.end) + " guard is secure",
		look: func(c *context) answer {
			g := e.of(c.facts)
			if g.GetKind() == pb.Guard_NONE {
				return yes
			}
			return answerOf(g != nil && g.Secure != nil, g.GetSecure())
		},
		declared: func(c *context, w *words) {
			w.add(secureWords(e.of(c.facts)))
			c.origin(w, fromGuard.at(e.end))
		},
		todo: always("Make the " + endWord(e.end) + " guard secure: tighten its stays, bolts and bridge."),
		mend: func(c *context) { e.own(c.facts).Secure = ptr(true) },
	}
}

// clear asks for a gap between tyre and guard. EN 14781 §4.10.2, quoted: 4 mm for racing bicycles; a maker's operating
// manual, p. 21: 6 mm for others.
func (e guardEnd) clear(mm float64) limit {
	name := endWord(e.end)
	return least{
		what: "gap to the tyre", unit: "mm", min: mm, asked: e.fitted,
		declare: "the gap between " + name + " guard and tyre at the tightest place",
		do:      "Set the " + name + " guard at least " + decimal(mm) + " mm off the tyre all round, or fit a narrower tyre.",
		work: work{under: jobGuard.at(e.end), with: jobTyreWider.at(e.end),
			alt: "Set the " + name + " guard at least " + decimal(mm) + " mm off the new tyre all round, or fit another guard."},
		get: func(f *pb.BikeFacts) *float64 {
			if g := e.of(f); g != nil {
				return g.ClearanceMm
			}
			return nil
		},
		set: func(f *pb.BikeFacts, v *float64) { e.own(f).ClearanceMm = v },
	}.limit()
}

// toe asks for a gap between toe and front guard. ISO 4210-2 §4.13.2.2: pedal centre to tyre or guard at least 100 mm,
// 89 mm with foot retention; the gap at the toe itself is less and differs with the shoe.
func (e guardEnd) toe(mm float64) limit {
	return least{
		what: "gap to the toe", unit: "mm", min: mm, asked: e.fitted,
		declare: "the gap between the toe and the front guard",
		do:      "Trim or move the front guard, or the cleats, until the toe clears it by " + decimal(mm) + " mm: a toe that catches turns the bars.",
		work:    work{under: jobGuard.at(e.end)},
		get: func(f *pb.BikeFacts) *float64 {
			if g := e.of(f); g != nil {
				return g.ToeGapMm
			}
			return nil
		},
		set: func(f *pb.BikeFacts, v *float64) { e.own(f).ToeGapMm = v },
	}.limit()
}
