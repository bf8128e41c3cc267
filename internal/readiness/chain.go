package readiness

import (
	"cmp"
	"slices"

	pb "gritward/proto/gritward/v1"
)

// chainSections looks at the chain.
func chainSections(rule *pb.Rule) []section {
	need := rule.GetChain()
	if need == nil {
		return nil
	}
	var limits []limit
	with := ""
	if len(need.GetLubricant()) > 0 {
		with = "with " + lubricants(need.GetLubricant()) + ", "
	}
	if len(need.GetWear()) > 0 {
		limits = append(limits, chainWear(need.GetWear()))
	}
	if need.MeasuredWithin != nil {
		limits = append(limits, dated{
			did: "chain measured", within: need.GetMeasuredWithin().AsDuration(), log: fromChainWear | fromChainNew, work: work{under: jobChainRenew},
			do:      "Measure the chain over twelve inches, at several places and not over the joining link",
			declare: "when the chain was last measured",
			get:     func(f *pb.BikeFacts) string { return f.GetChain().GetMeasuredOn() },
			set:     func(f *pb.BikeFacts, on string) { made(&f.Chain).MeasuredOn = on },
		}.limit())
	}
	if need.CleanedWithin != nil {
		limits = append(limits, dated{
			did: "chain degreased", within: need.GetCleanedWithin().AsDuration(), log: fromDegreased, work: work{does: jobDegrease, under: jobChainRenew | jobLubricant},
			do:      "Degrease the chain, rinse it and let it dry before it is lubricated; keep degreaser away from brakes and bearings",
			declare: "when the chain was last degreased",
			get:     func(f *pb.BikeFacts) string { return f.GetChain().GetCleanedOn() },
			set:     func(f *pb.BikeFacts, on string) { made(&f.Chain).CleanedOn = on },
		}.limit())
	}
	if need.LubricatedWithin != nil {
		limits = append(limits, dated{
			did: "chain lubricated", within: need.GetLubricatedWithin().AsDuration(), log: fromLubricated, work: work{does: jobLubricate, under: jobChainRenew | jobLubricant},
			do:      "Lubricate the chain " + with + "thinly, a drop to each roller, let it soak in, and wipe off what is left",
			declare: "when the chain was last lubricated",
			get:     func(f *pb.BikeFacts) string { return f.GetChain().GetLubricatedOn() },
			set:     func(f *pb.BikeFacts, on string) { made(&f.Chain).LubricatedOn = on },
		}.limit())
	}
	if len(need.GetLubricant()) > 0 {
		limits = append(limits, lubricant(need.GetLubricant()))
	}
	return []section{{limits: limits}}
}

// lubricant asks what is on the chain: wet-weather lubricant stays on in rain, dry-weather lubricant washes off (trade).
func lubricant(wanted []pb.Chain_Lubricant) limit {
	return limit{
		needed: lubricants(wanted), work: work{does: jobLubricant, under: jobChainRenew}, declare: "what the chain is lubricated with",
		look: func(c *context) answer {
			l := c.facts.GetChain().GetLubricant()
			return answerOf(l != 0, slices.Contains(wanted, l))
		},
		declared: func(c *context, w *words) { w.add(lubricantWords(c.facts.GetChain().GetLubricant())) },
		todo: always("Degrease the chain, rinse it and let it dry; then lubricate it with " + lubricants(wanted) +
			", thinly, and wipe off what is left. Keep degreaser away from brakes and bearings."),
		mend: func(c *context) { made(&c.facts.Chain).Lubricant = wanted[0] },
	}
}

func lubricants(wanted []pb.Chain_Lubricant) string {
	var names []string
	for _, l := range wanted {
		names = append(names, lubricantWords(l))
	}
	return orList(names)
}

func lubricantWords(l pb.Chain_Lubricant) string {
	switch l {
	case pb.Chain_WET:
		return "wet-weather lubricant"
	case pb.Chain_DRY:
		return "dry-weather lubricant"
	case pb.Chain_WAX:
		return "wax"
	default:
		return "lubricant " + notDeclared
	}
}

// ladder puts limits of wear in order of sprockets.
func ladder(limits []*pb.ChainWearLimit) []*pb.ChainWearLimit {
	return slices.SortedStableFunc(slices.Values(limits), func(a, b *pb.ChainWearLimit) int {
		return cmp.Compare(a.GetSpeedsFrom(), b.GetSpeedsFrom())
	})
}
