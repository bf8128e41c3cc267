package policy

import (
	"slices"

	pb "gritward/proto/gritward/v1"
)

// doubtNeed warns of limits of a rule that no bike can meet, that do nothing, or that are contrary to the usual cautions.
func (c *checker) doubtNeed(rule *pb.Rule, path string) {
	switch need := rule.GetNeed().(type) {
	case *pb.Rule_Guards:
		c.doubtGuards(need.Guards, path)
	case *pb.Rule_Lights:
		c.doubtLights(need.Lights, path)
		c.doubtFlashing(need.Lights, path)
	case *pb.Rule_Brakes:
		c.doubtBrakes(need.Brakes, path)
	case *pb.Rule_Tyres:
		c.doubtTyres(need.Tyres, path)
	case *pb.Rule_Chain:
		c.doubtChain(need.Chain, path)
	case *pb.Rule_Bearings:
		if need.Bearings.BeforeSeason != nil && slices.Contains(rule.GetUnless(), pb.Circumstance_SEASON) {
			c.warn(path+".before_season", "before_season does nothing: it is looked at in season only, and the rule does not apply then",
				"take season out of unless, or take before_season out")
		}
	case *pb.Rule_Declaration:
		c.doubtAge(path+".valid", need.Declaration.GetValid().AsDuration())
	}
}

// doubtGuards: the toe must clear a guard by 100 mm, or 89 mm where the foot is held (ISO 4210-2, 4.13.2.2).
func (c *checker) doubtGuards(need *pb.GuardsNeed, path string) {
	if need.ToeGapMm != nil && need.GetToeGapMm() < 89 {
		c.warn(path+".toe_gap", "a toe gap below 89 mm would do, though the foot can then touch the guard in a turn",
			"ISO 4210-2 has 100 mm, or 89 mm where the foot is held; write toe_gap: 89mm")
	}
}

func (c *checker) doubtLights(need *pb.LightsNeed, path string) {
	counted := need.GetFront()+need.GetRear() > 0
	for _, limit := range []struct {
		key, end string
		set      bool
		lamps    int32
	}{
		{"front_lumens", "front", need.FrontLumens != nil, need.GetFront()},
		{"rear_lumens", "rear", need.RearLumens != nil, need.GetRear()},
		{"rear_steady", "rear", need.GetRearSteady(), need.GetRear()},
	} {
		if counted && limit.set && limit.lamps == 0 {
			c.warn(path+"."+limit.key, limit.key+" does nothing: the rule asks for no "+limit.end+" lamp", "add "+limit.end+": 1, or take it out")
		}
	}
}

// doubtFlashing: a lamp flashes 60 to 240 times a minute, 1 to 4 times a second (Department for Transport, guidance on
// Statutory Instrument 2005/2559).
func (c *checker) doubtFlashing(need *pb.LightsNeed, path string) {
	const law = "a flashing lamp must flash 60 to 240 times a minute in Great Britain; write "
	least, most := need.FlashesMin, need.FlashesMax
	switch {
	case least != nil && most != nil && *least > *most:
		c.warn(path+".flashes_min", "no flashing lamp can count: flashes_min is above flashes_max", "write flashes_min: 60, flashes_max: 240")
		return
	case least != nil && *least > 240:
		c.warn(path+".flashes_min", "no lamp that flashes at the usual rate can count: flashes_min is above 240", law+"flashes_min: 60")
	case least != nil && *least < 60:
		c.warn(path+".flashes_min", "lamps that flash less than 60 times a minute would count", law+"flashes_min: 60")
	}
	switch {
	case most != nil && *most < 60:
		c.warn(path+".flashes_max", "no lamp that flashes at the usual rate can count: flashes_max is below 60", law+"flashes_max: 240")
	case most != nil && *most > 240:
		c.warn(path+".flashes_max", "lamps that flash more than 240 times a minute would count", law+"flashes_max: 240")
	}
}

// doubtTyres: a tyre clears frame and fork by at least 1.6 mm (16 CFR 1512.11(b), United States).
func (c *checker) doubtTyres(need *pb.TyresNeed, path string) {
	if need.WidthMinMm != nil && need.WidthMaxRimMm != nil && need.GetWidthMinMm() > need.GetWidthMaxRimMm() {
		c.warn(path+".width_max_rim", "no bike with rim brakes can meet this without stating its clearance: width_max_rim is below width_min",
			"write a width_max_rim that is not below width_min")
	}
	if need.ClearanceMm != nil && need.GetClearanceMm() < 1.6 {
		c.warn(path+".clearance", "a gap below 1.6 mm would do, in which grit and mud stop a wheel", "16 CFR 1512.11 has 1.6 mm, and winter wants more; write clearance: 4mm")
	}
}
