package policy

import (
	"fmt"
	"strconv"

	pb "gritward/proto/gritward/v1"
)

// newPadMm is the friction material of a new disc pad, and newDiscMm the thickness of a new disc: from memory, both vary.
const (
	newPadMm  = 4.0
	newDiscMm = 1.8
)

// doubtBrakes: disc pads are replaced at 0.5 mm of friction material, discs at 1.5 mm where nothing is etched on them
// (workshop guides; makers' figures differ and come first).
func (c *checker) doubtBrakes(need *pb.BrakesNeed, path string) {
	if need.DiscPadMm != nil && need.GetDiscPadMm() < 0.5 {
		c.warn(path+".disc_pad", "disc pads with less than 0.5 mm of friction material would do", "pads are replaced at 0.5 mm, and 1 mm is the cautious limit; write disc_pad: 0.5mm or more")
	}
	if need.DiscPadMm != nil && need.GetDiscPadMm() >= newPadMm {
		c.warn(path+".disc_pad", "hardly any disc pad can meet this: a new one has about 4 mm of friction material", "measure without the backing plate; write for example disc_pad: 1mm")
	}
	if need.RotorMm != nil && need.GetRotorMm() < 1.5 {
		c.warn(path+".rotor", "discs thinner than 1.5 mm would do", "a disc that thin can fail; write rotor: 1.5mm, and obey what is etched on the disc")
	}
	if need.RotorMm != nil && need.GetRotorMm() > newDiscMm {
		c.warn(path+".rotor", "hardly any disc can meet this: many are 1.8 mm thick when new", "write rotor: 1.5mm")
	}
	if need.RotorMm != nil && !need.GetRotorAsEtched() {
		c.warn(path+".rotor", "rotor is for discs on which nothing is etched; the others are not looked at", "add rotor_as_etched: true")
	}
	if compounds := need.GetDiscCompound(); len(compounds) == 1 && compounds[0] == pb.Brake_RUBBER {
		c.warn(path+".disc_compound", "no disc pad can meet this: rubber is the compound of rim blocks", "write for example disc_compound: [resin, sintered, semi-metallic]")
	}
}

// newChainPct is the most that a new chain has been seen to measure, %.
const newChainPct = 0.15

// doubtChain holds the limits against the usual ones, below which a chain is replaced (tool and workshop guides; single
// speed and hub gears, common practice): 0.5 % with 11 or more sprockets, 0.75 % with 8 to 10, 1 % with fewer.
func (c *checker) doubtChain(need *pb.ChainNeed, path string) {
	for i, limit := range need.GetWear() {
		usual := 1.0
		switch speeds := limit.GetSpeedsFrom(); {
		case speeds >= 11:
			usual = 0.5
		case speeds >= 8:
			usual = 0.75
		}
		at := pathOf(path+".wear", i) + ".below"
		switch below := limit.GetPct(); {
		case below <= newChainPct:
			c.warn(at, "no chain can be sure to meet this: a new one can measure 0.15%", "write below: "+percent(usual))
		case below > 1:
			c.warn(at, "a chain worn more than 1% would do; it skips under load and wears the sprockets", "write below: "+percent(usual))
		case below > usual:
			c.warn(at, fmt.Sprintf("the limit for %d sprockets is above the usual %s", limit.GetSpeedsFrom(), percent(usual)), "write below: "+percent(usual))
		}
	}
}

func percent(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) + "%" }
