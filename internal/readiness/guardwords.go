package readiness

import pb "gritward/proto/gritward/v1"

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
