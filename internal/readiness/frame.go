package readiness

import pb "gritward/proto/gritward/v1"

// frameSections looks at the frame and what protects it from salt, chain and cables: common practice, no source.
func frameSections(rule *pb.Rule) []section {
	need := rule.GetFrame()
	if need == nil {
		return nil
	}
	var limits []limit
	if need.GetNoOpenDamage() {
		limits = append(limits, frameTruth(truth{
			needed: "no open damage", good: "no open damage", bad: "crack, dent or corrosion not looked at by a mechanic", name: "damage", inverted: true,
			declare: "whether there is a crack, dent or corrosion that no mechanic has looked at",
			do:      "Have a mechanic look at the damage before the bike is ridden: a crack can break without warning.",
		}, func(f *pb.Frame) **bool { return &f.DamageOpen }))
	}
	if need.WaxedWithin != nil {
		limits = append(limits, dated{
			did: "frame waxed", within: need.GetWaxedWithin().AsDuration(), log: fromWaxed,
			do:      "Treat the frame with frame wax or a spray against corrosion, inside where it is steel, and keep it off brakes and rims",
			declare: "when the frame was last waxed or treated",
			get:     func(f *pb.BikeFacts) string { return f.GetFrame().GetWaxedOn() },
			set:     func(f *pb.BikeFacts, on string) { made(&f.Frame).WaxedOn = on },
		}.limit())
	}
	if need.GetChainstayProtected() {
		limits = append(limits, frameTruth(truth{
			needed: "chainstay protected", good: "chainstay protected", bad: "chainstay bare", name: "chainstay",
			declare: "whether the chainstay is protected", do: "Stick a guard or tape on the chainstay, where the chain strikes it.", log: fromProtected,
		}, func(f *pb.Frame) **bool { return &f.ChainstayProtected }))
	}
	if need.GetCableRubProtected() {
		limits = append(limits, frameTruth(truth{
			needed: "protected where cables and bags rub", good: "protected where cables rub", bad: "bare where cables rub", name: "where cables rub",
			declare: "whether the frame is protected where cables and bags rub", do: "Stick clear tape on the frame where cables and bags rub: grit under them grinds it.", log: fromProtected,
		}, func(f *pb.Frame) **bool { return &f.CableRubProtected }))
	}
	return []section{{limits: limits}}
}

func frameTruth(t truth, field func(*pb.Frame) **bool) limit {
	t.get = func(f *pb.BikeFacts) *bool {
		if f.GetFrame() == nil {
			return nil
		}
		return *field(f.Frame)
	}
	t.set = func(f *pb.BikeFacts, v *bool) { *field(made(&f.Frame)) = v }
	return t.limit()
}
