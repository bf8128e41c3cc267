package readiness

import pb "gritward/proto/gritward/v1"

// ends are both ends, in the order of findings.
func ends() [2]pb.End { return [2]pb.End{pb.End_FRONT, pb.End_REAR} }

func ptr[T any](v T) *T { return &v }

// made is what a field points to, made where there was nothing.
func made[T any](field **T) *T {
	if *field == nil {
		*field = new(T)
	}
	return *field
}

// tyreEnd is the tyre of one end.
type tyreEnd struct{ end pb.End }

// of is the tyre that was declared; nil: nothing was.
func (e tyreEnd) of(facts *pb.BikeFacts) *pb.Tyre {
	if e.end == pb.End_FRONT {
		return facts.GetTyres().GetFront()
	}
	return facts.GetTyres().GetRear()
}

// own is the tyre of facts that may be changed.
func (e tyreEnd) own(facts *pb.BikeFacts) *pb.Tyre {
	if e.end == pb.End_FRONT {
		return made(&made(&facts.Tyres).Front)
	}
	return made(&made(&facts.Tyres).Rear)
}

// brakeEnd is the brake of one end.
type brakeEnd struct{ end pb.End }

// of is the brake that was declared; nil: nothing was.
func (e brakeEnd) of(facts *pb.BikeFacts) *pb.Brake {
	if e.end == pb.End_FRONT {
		return facts.GetBrakes().GetFront()
	}
	return facts.GetBrakes().GetRear()
}

// own is the brake of facts that may be changed.
func (e brakeEnd) own(facts *pb.BikeFacts) *pb.Brake {
	if e.end == pb.End_FRONT {
		return made(&made(&facts.Brakes).Front)
	}
	return made(&made(&facts.Brakes).Rear)
}
