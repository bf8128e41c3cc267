package readiness

import (
	"strings"

	pb "gritward/proto/gritward/v1"
)

// guardSections looks at mudguards. What counts as full follows the practice of clubs, no published standard: a guard
// fixed on stays is full; one strapped on or fixed to the seat post does not count as full, whatever its length. "A flap
// to at least rear-hub height" is their practice too. Measures of a guard count only where one is fitted.
func guardSections(rule *pb.Rule) []section {
	need := rule.GetGuards()
	var sections []section
	for _, e := range []guardEnd{
		{end: pb.End_FRONT, cover: need.GetFront(), flap: need.GetFrontFlap()},
		{end: pb.End_REAR, cover: need.GetRear(), flap: need.GetRearFlap(), hub: need.GetRearToHub()},
	} {
		if limits := e.limits(need); len(limits) > 0 {
			sections = append(sections, section{
				name: endWord(e.end), limits: limits, head: e.none, fit: e.fitting, fits: jobGuard.at(e.end),
			})
		}
	}
	return sections
}

// guardEnd is what a rule asks of the guard of one end.
type guardEnd struct {
	end       pb.End
	cover     pb.GuardsNeed_Cover
	flap, hub bool
}

// of is the guard that was declared; nil: nothing was.
func (e guardEnd) of(facts *pb.BikeFacts) *pb.Guard {
	if e.end == pb.End_FRONT {
		return facts.GetGuards().GetFront()
	}
	return facts.GetGuards().GetRear()
}

// own is the guard of facts that may be changed.
func (e guardEnd) own(facts *pb.BikeFacts) *pb.Guard {
	if e.end == pb.End_FRONT {
		return made(&made(&facts.Guards).Front)
	}
	return made(&made(&facts.Guards).Rear)
}

// limits are the questions that the rule asks of this end.
func (e guardEnd) limits(need *pb.GuardsNeed) []limit {
	var limits []limit
	add := func(asked bool, l func() limit) {
		if asked {
			limits = append(limits, l())
		}
	}
	add(e.cover != pb.GuardsNeed_COVER_UNSPECIFIED, e.covered)
	add(e.flap, e.flapped)
	add(e.hub, e.toHub)
	add(need.GetSecure(), e.secure)
	add(need.ClearanceMm != nil, func() limit { return e.clear(need.GetClearanceMm()) })
	add(need.WiderByMm != nil, func() limit { return e.wider(need.GetWiderByMm()) })
	add(need.ToeGapMm != nil && e.end == pb.End_FRONT, func() limit { return e.toe(need.GetToeGapMm()) })
	return limits
}

// none is said alone of an end that has no guard.
func (e guardEnd) none(c *context) (text string, alone bool) {
	if e.of(c.facts).GetKind() == pb.Guard_NONE {
		return kindWords(pb.Guard_NONE), true
	}
	return "", false
}

// fitted tells whether there is a guard of which measures can be asked.
func (e guardEnd) fitted(c *context) answer {
	switch e.of(c.facts).GetKind() {
	case pb.Guard_NONE:
		return moot
	case pb.Guard_KIND_UNSPECIFIED:
		return unknown
	default:
		return yes
	}
}

// fitting is the one thing to do where another guard has to be fitted, rather than this one mended.
func (e guardEnd) fitting(c *context) string {
	switch e.of(c.facts).GetKind() {
	case pb.Guard_NONE:
		if e.cover != pb.GuardsNeed_COVER_UNSPECIFIED || e.flap || e.hub {
			return "Fit a " + e.fit() + "."
		}
	case pb.Guard_CLIP_ON:
		if e.cover == pb.GuardsNeed_FULL {
			return "Fit a " + e.fit() + "."
		}
	}
	return ""
}

// fit names the guard to fit: "full rear guard with a flap, reaching at least as low as the hub".
func (e guardEnd) fit() string {
	var text strings.Builder
	if e.cover == pb.GuardsNeed_FULL {
		text.WriteString("full ")
	}
	text.WriteString(endWord(e.end) + " guard")
	if e.flap {
		text.WriteString(" with a flap")
	}
	if e.hub {
		text.WriteString(", reaching at least as low as the hub")
	}
	return text.String()
}

// mended is the guard of this end, one that is fitted as the rule asks. One that is fitted anew is chosen and fitted to
// suit the club: secure, with room, and as wide as any policy can ask.
func (e guardEnd) mended(c *context) *pb.Guard {
	g := e.own(c.facts)
	before := g.Kind
	switch {
	case e.cover == pb.GuardsNeed_FULL || g.Kind == pb.Guard_KIND_UNSPECIFIED:
		g.Kind = pb.Guard_FIXED
	case g.Kind == pb.Guard_NONE:
		g.Kind = pb.Guard_CLIP_ON
	}
	if before != g.Kind && before != pb.Guard_KIND_UNSPECIFIED {
		_, tyre := e.widths(c.facts)
		g.Secure, g.ClearanceMm, g.ToeGapMm = ptr(true), ptr(30.0), ptr(200.0)
		if tyre != nil {
			g.WidthMm = ptr(*tyre + 40)
		}
	}
	return g
}
