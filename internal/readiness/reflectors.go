package readiness

import pb "gritward/proto/gritward/v1"

// reflectorSections looks at reflectors. In Great Britain a red one to the rear and amber ones on the pedals (of cycles
// made after 1 October 1985) are a must at night (Highway Code 60).
func reflectorSections(rule *pb.Rule) []section {
	need := rule.GetReflectors()
	var limits []limit
	for _, r := range []struct {
		asked             bool
		name, where, todo string
		field             func(*pb.Reflectors) **bool
	}{
		{need.GetFront(), "front reflector", "to the front", "Fit a white reflector to the front.", func(r *pb.Reflectors) **bool { return &r.Front }},
		{need.GetRear(), "rear reflector", "to the rear", "Fit a red reflector to the rear.", func(r *pb.Reflectors) **bool { return &r.Rear }},
		{need.GetPedals(), "pedal reflectors", "on each pedal", "Fit amber reflectors to both pedals, front and back.", func(r *pb.Reflectors) **bool { return &r.Pedals }},
		{need.GetWheels(), "wheel reflectors", "on each wheel or tyre", "Fit reflectors or tyres with a reflecting band to the wheels.", func(r *pb.Reflectors) **bool { return &r.Wheels }},
	} {
		if !r.asked {
			continue
		}
		limits = append(limits, truth{
			needed: r.name, good: r.name, bad: "no " + r.name, name: r.name, declare: "whether there is a reflector " + r.where, do: r.todo,
			get: func(f *pb.BikeFacts) *bool {
				if f.GetReflectors() == nil {
					return nil
				}
				return *r.field(f.Reflectors)
			},
			set: func(f *pb.BikeFacts, v *bool) { *r.field(made(&f.Reflectors)) = v },
		}.limit())
	}
	return []section{{limits: limits}}
}
