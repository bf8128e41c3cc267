package readiness

import pb "gritward/proto/gritward/v1"

// rounding is how much, in mm, a difference of two measures may be out through rounding.
const rounding = 1e-9

// wider asks that a guard is wider than its tyre. Trade practice: about 8 to 12 mm.
func (e guardEnd) wider(mm float64) limit {
	name := endWord(e.end)
	return limit{
		needed: decimal(mm) + " mm wider than the tyre", declare: "how wide the " + name + " guard and its tyre are",
		look: func(c *context) answer {
			if e.fitted(c) == moot {
				return moot
			}
			guard, tyre := e.widths(c.facts)
			return answerOf(guard != nil && tyre != nil, guard != nil && tyre != nil && *guard-*tyre >= mm-rounding)
		},
		declared: func(c *context, w *words) {
			guard, tyre := e.widths(c.facts)
			sayMm(w, "width", guard)
			sayMm(w, " over a tyre of", tyre)
		},
		work: work{under: jobGuard.at(e.end), with: jobTyreWider.at(e.end),
			alt: "Fit a " + name + " guard that is at least " + decimal(mm) + " mm wider than the new tyre."},
		todo: always("Fit a " + name + " guard that is at least " + decimal(mm) + " mm wider than the tyre, or a narrower tyre."),
		mend: func(c *context) {
			_, tyre := e.widths(c.facts)
			if tyre == nil {
				tyre = ptr(28.0)
				tyreEnd{e.end}.own(c.facts).WidthMm = tyre
			}
			e.own(c.facts).WidthMm = ptr(*tyre + mm)
		},
	}
}

func (e guardEnd) widths(facts *pb.BikeFacts) (guard, tyre *float64) {
	if g := e.of(facts); g != nil {
		guard = g.WidthMm
	}
	if t := (tyreEnd{e.end}).of(facts); t != nil {
		tyre = t.WidthMm
	}
	return guard, tyre
}

// sayMm writes "width 38 mm" or "width not declared".
func sayMm(w *words, what string, value *float64) {
	w.add(what)
	if value == nil {
		w.add(" " + notDeclared)
		return
	}
	w.add(" ")
	w.measure(*value, " mm")
}
