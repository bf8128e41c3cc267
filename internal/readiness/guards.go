package readiness

import (
	"strings"

	pb "gritward/proto/gritward/v1"
)

// judgeGuards looks at mudguards. What counts as full follows the practice of clubs, no published standard: a guard
// fixed on stays is full; one strapped on or fixed to the seat post does not count as full, whatever its length. "A flap
// to at least rear-hub height" is their practice too.
func judgeGuards(c *context, rule *pb.Rule) verdict {
	need, guards := rule.GetGuards(), c.facts.GetGuards()
	ends := []guardEnd{
		{name: "front", guard: guards.GetFront(), cover: need.GetFront(), flap: need.GetFrontFlap(), secure: need.GetSecure()},
		{name: "rear", guard: guards.GetRear(), cover: need.GetRear(), flap: need.GetRearFlap(), hub: need.GetRearToHub(), secure: need.GetSecure()},
	}
	v := verdict{met: true}
	var needed, declared []string
	silent := true
	for _, end := range ends {
		parts := end.parts()
		if len(parts) == 0 {
			continue
		}
		for _, part := range parts {
			v.met = v.met && part.answer == yes
			v.notDeclared = v.notDeclared || part.answer == unknown
			silent = silent && part.answer == unknown
		}
		needed = append(needed, end.name+": "+end.needed())
		declared = append(declared, end.name+": "+end.declared(parts))
		v.todo = append(v.todo, end.todo(parts)...)
	}
	v.needed, v.declared = strings.Join(needed, "; "), strings.Join(declared, "; ")
	if silent {
		v.declared = notDeclared
	}
	return v
}

// guardEnd is what a rule asks of one end, and what was declared of it.
type guardEnd struct {
	name              string // "front", "rear"
	guard             *pb.Guard
	cover             pb.GuardsNeed_Cover
	flap, hub, secure bool
}

// answer is what a declaration says to one question.
type answer int

const (
	unknown answer = iota
	no
	yes
)

func answerOf(declared, good bool) answer {
	switch {
	case !declared:
		return unknown
	case good:
		return yes
	default:
		return no
	}
}

// guardPart is one question about one guard: what was declared, what mends it, what declares it.
type guardPart struct {
	answer             answer
	declared           string
	mend, declareWhich string
}

// parts are the questions that the rule asks of this end.
func (e guardEnd) parts() []guardPart {
	kind := e.guard.GetKind()
	none, known := kind == pb.Guard_NONE, kind != pb.Guard_KIND_UNSPECIFIED
	var parts []guardPart
	if e.cover != pb.GuardsNeed_COVER_UNSPECIFIED {
		good := kind == pb.Guard_FIXED || kind == pb.Guard_CLIP_ON && e.cover == pb.GuardsNeed_ANY
		parts = append(parts, guardPart{answerOf(known, good), kindWords(kind), "", "how the " + e.name + " guard is fixed"})
	}
	if e.flap {
		parts = append(parts, guardPart{
			answerOf(none || e.guard != nil && e.guard.Flap != nil, !none && e.guard.GetFlap()),
			flapWords(e.guard), "Fit a flap to the " + e.name + " guard.", "whether the " + e.name + " guard has a flap"})
	}
	if e.hub {
		reach := e.guard.GetReach()
		parts = append(parts, guardPart{
			answerOf(none || reach != pb.Guard_REACH_UNSPECIFIED, !none && reach != pb.Guard_ABOVE_HUB),
			reachWords(e.guard), "Lengthen the " + e.name + " guard or its flap until it reaches at least as low as the hub.",
			"how far down the " + e.name + " guard reaches"})
	}
	if e.secure {
		parts = append(parts, guardPart{
			answerOf(none || e.guard != nil && e.guard.Secure != nil, none || e.guard.GetSecure()),
			secureWords(e.guard), "Make the " + e.name + " guard secure: tighten its stays, bolts and bridge.",
			"whether the " + e.name + " guard is secure"})
	}
	return parts
}

// mustFit tells whether another guard has to be fitted, rather than this one mended.
func (e guardEnd) mustFit() bool {
	switch e.guard.GetKind() {
	case pb.Guard_NONE:
		return e.cover != pb.GuardsNeed_COVER_UNSPECIFIED || e.flap || e.hub
	case pb.Guard_CLIP_ON:
		return e.cover == pb.GuardsNeed_FULL
	default:
		return false
	}
}

// todo says how to meet what is asked of this end.
func (e guardEnd) todo(parts []guardPart) []string {
	if e.mustFit() {
		return []string{"Fit a " + e.fit() + "."}
	}
	var todo, declare []string
	for _, part := range parts {
		switch part.answer {
		case no:
			todo = append(todo, part.mend)
		case unknown:
			declare = append(declare, part.declareWhich)
		}
	}
	if len(declare) > 0 {
		todo = append(todo, "Declare "+andList(declare)+".")
	}
	return todo
}
