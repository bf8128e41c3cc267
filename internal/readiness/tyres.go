package readiness

import pb "gritward/proto/gritward/v1"

// tyreSections looks at each tyre, and at the summer pair. Common practice, no source: 28 to 32 mm in winter, wider with
// disc brakes or where the gap is known; renewed when casing is to be seen, cuts are deep or the wear dimples are gone.
// No law gives tyres of cycles a least depth of tread.
func tyreSections(rule *pb.Rule) []section {
	need := rule.GetTyres()
	if need == nil {
		return nil
	}
	var sections []section
	for _, end := range ends() {
		e := tyreEnd{end}
		if limits := append(e.sizeLimits(need), e.stateLimits(need)...); len(limits) > 0 {
			sections = append(sections, section{name: e.name(), limits: limits})
		}
	}
	if need.GetSummerPairStored() {
		sections = append(sections, section{limits: []limit{summerPair()}})
	}
	return sections
}

func (e tyreEnd) name() string { return endWord(e.end) }

// sizeLimits ask how wide the tyre is, and how much room it has.
func (e tyreEnd) sizeLimits(need *pb.TyresNeed) []limit {
	var limits []limit
	if need.WidthMinMm != nil {
		limits = append(limits, least{
			what: "width", unit: "mm", min: need.GetWidthMinMm(), declare: "how wide the " + e.name() + " tyre is",
			do: "Fit a " + e.name() + " tyre of " + decimal(need.GetWidthMinMm()) + " mm or more, if frame, fork and brake leave room for it.",
			work: work{does: jobTyreWider.at(e.end), with: jobTyreNarrower.at(e.end),
				alt: "There is no room for a " + e.name() + " tyre of " + decimal(need.GetWidthMinMm()) + " mm on this bike."},
			get: e.width, set: func(f *pb.BikeFacts, v *float64) { e.own(f).WidthMm = v },
		}.limit())
	}
	if need.WidthMaxRimMm != nil {
		limits = append(limits, e.notTooWide(need.GetWidthMaxRimMm(), need.WidthMinMm == nil, need.ClearanceMm == nil))
	}
	if need.ClearanceMm != nil {
		limits = append(limits, least{
			what: "gap to frame, fork and brake", unit: "mm", min: need.GetClearanceMm(),
			declare: "the gap between the " + e.name() + " tyre and frame, fork and brake at the tightest place",
			do:      "Fit a narrower " + e.name() + " tyre: grit wedges in a gap of less than " + decimal(need.GetClearanceMm()) + " mm, and can stop the wheel.",
			work:    work{does: jobTyreNarrower.at(e.end), under: jobTyreGap.at(e.end)},
			get:     e.gap, set: func(f *pb.BikeFacts, v *float64) { e.own(f).ClearanceMm = v },
		}.limit())
	}
	return limits
}

func (e tyreEnd) width(f *pb.BikeFacts) *float64 {
	if t := e.of(f); t != nil {
		return t.WidthMm
	}
	return nil
}

func (e tyreEnd) gap(f *pb.BikeFacts) *float64 {
	if t := e.of(f); t != nil {
		return t.ClearanceMm
	}
	return nil
}

// notTooWide asks that a tyre between the arms of a rim brake is not wider than commonly has room, unless the gap that it
// has was declared. Other limits may say the width and the gap.
func (e tyreEnd) notTooWide(mm float64, sayWidth, sayGap bool) limit {
	return limit{
		needed: "width at most " + decimal(mm) + " mm with rim brakes, unless the gap is declared", work: work{does: jobTyreGap.at(e.end)},
		declareNow: func(c *context) string {
			if e.width(c.facts) == nil {
				return "how wide the " + e.name() + " tyre is"
			}
			return "which brake there is at the " + e.name() + ", or the gap that the tyre has to frame, fork and brake"
		},
		look: func(c *context) answer {
			width := e.width(c.facts)
			switch kind := (brakeEnd(e)).of(c.facts).GetKind(); {
			case width != nil && (*width <= mm || e.gap(c.facts) != nil):
				return yes
			case kind != pb.Brake_KIND_UNSPECIFIED && kind != pb.Brake_RIM:
				return moot
			case kind == pb.Brake_RIM && width != nil:
				return no
			default:
				return unknown
			}
		},
		declared: func(c *context, w *words) {
			from := w.len()
			say := func(asked bool, what string, value *float64) {
				if asked && w.len() > from {
					w.add(", ")
				}
				if asked {
					sayMm(w, what, value)
				}
			}
			say(sayWidth, "width", e.width(c.facts))
			switch kind := (brakeEnd(e)).of(c.facts).GetKind(); {
			case kind != pb.Brake_KIND_UNSPECIFIED:
			case w.len() > from:
				w.add(", brake " + notDeclared)
			default:
				w.add("brake " + notDeclared)
			}
			say(sayGap, "gap", e.gap(c.facts))
		},
		todo: always("Measure the gap between the " + e.name() + " tyre and frame, fork and brake and declare it, or fit a tyre of at most " + decimal(mm) + " mm."),
		mend: func(c *context) {
			if e.width(c.facts) == nil {
				e.own(c.facts).WidthMm = ptr(min(28, mm))
			}
			e.own(c.facts).ClearanceMm = ptr(6.0)
		},
	}
}

func summerPair() limit {
	return truth{
		needed: "summer tyres stored", good: "summer tyres stored", bad: "summer tyres not stored", name: "whether the summer tyres are stored",
		declare: "whether the summer tyres are stored",
		do:      "Take the summer tyres off the bike, clean them, and store them cool, dry and dark.",
		get: func(f *pb.BikeFacts) *bool {
			if f.GetTyres() == nil {
				return nil
			}
			return f.Tyres.SummerPairStored
		},
		set: func(f *pb.BikeFacts, v *bool) { made(&f.Tyres).SummerPairStored = v },
	}.limit()
}
