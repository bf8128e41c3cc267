package readiness

import (
	"strings"

	pb "gritward/proto/gritward/v1"
)

// needed writes what the rule asks of this end: "full guard, flap, reaching the hub, secure".
func (e guardEnd) needed() string {
	var asks []string
	switch e.cover {
	case pb.GuardsNeed_ANY:
		asks = append(asks, "any guard")
	case pb.GuardsNeed_FULL:
		asks = append(asks, "full guard")
	}
	if e.flap {
		asks = append(asks, "flap")
	}
	if e.hub {
		asks = append(asks, "reaching the hub")
	}
	if e.secure {
		asks = append(asks, "secure if fitted")
	}
	return strings.Join(asks, ", ")
}

// declared writes what was declared of what the rule asks of this end.
func (e guardEnd) declared(parts []guardPart) string {
	if e.guard.GetKind() == pb.Guard_NONE {
		return kindWords(pb.Guard_NONE)
	}
	var has []string
	for _, part := range parts {
		has = append(has, part.declared)
	}
	return strings.Join(has, ", ")
}

// fit names the guard to fit: "full rear guard with a flap, reaching at least as low as the hub".
func (e guardEnd) fit() string {
	text := e.name + " guard"
	if e.cover == pb.GuardsNeed_FULL {
		text = "full " + text
	}
	if e.flap {
		text += " with a flap"
	}
	if e.hub {
		text += ", reaching at least as low as the hub"
	}
	return text
}

func kindWords(kind pb.Guard_Kind) string {
	switch kind {
	case pb.Guard_NONE:
		return "no guard"
	case pb.Guard_CLIP_ON:
		return "clip-on guard"
	case pb.Guard_FIXED:
		return "full guard"
	default:
		return "guard " + notDeclared
	}
}

func flapWords(guard *pb.Guard) string {
	switch {
	case guard == nil || guard.Flap == nil:
		return "flap " + notDeclared
	case guard.GetFlap():
		return "flap"
	default:
		return "no flap"
	}
}

func reachWords(guard *pb.Guard) string {
	switch guard.GetReach() {
	case pb.Guard_ABOVE_HUB:
		return "ends above the hub"
	case pb.Guard_HUB:
		return "reaches the hub"
	case pb.Guard_BELOW_HUB:
		return "reaches below the hub"
	default:
		return "reach " + notDeclared
	}
}

func secureWords(guard *pb.Guard) string {
	switch {
	case guard == nil || guard.Secure == nil:
		return "whether secure " + notDeclared
	case guard.GetSecure():
		return "secure"
	default:
		return "not secure"
	}
}
