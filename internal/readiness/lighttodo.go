package readiness

import (
	"fmt"

	pb "gritward/proto/gritward/v1"
)

// todo says how to meet what is asked of this end, which strict does not and hopeful, with all that was not declared
// taken for the best, perhaps does.
func (e lampEnd) todo(lamps []*pb.Light, burn burn, strict, hopeful coverage) []string {
	if !e.carries(lamps) {
		return []string{"Carry " + count(e.want, e.lamp()) + e.quality() + e.lasting(e.want, burn.needMin, burn) + ", charged."}
	}
	if hopeful.chains >= e.want {
		return []string{"Declare " + andList(e.undeclared(lamps, burn)) + "."}
	}
	if simple := e.change(lamps, burn); simple != "" {
		return []string{simple}
	}
	missing := e.want - strict.chains
	if missing > 1 || burn.needMin == 0 || strict.partial == 0 {
		return []string{"Carry " + count(missing, "more "+e.lamp()) + e.quality() + e.lasting(missing, burn.needMin, burn) + "."}
	}
	short := burn.needMin - strict.partial
	return []string{
		fmt.Sprintf("The light at the %s is %s short.", endWord(e.end), atLeastMin(short)),
		fmt.Sprintf("Charge the lamp fully and use a mode that lasts longer, or carry another %s%s%s.", e.lamp(), e.quality(), e.lasting(1, short, burn)),
	}
}

// change says how the lamps carried would do if they were used otherwise; empty where that is not enough.
func (e lampEnd) change(lamps []*pb.Light, burn burn) string {
	anywhere, anyhow := e, e
	anywhere.onBike, anyhow.steady = false, false
	switch {
	case e.onBike && anywhere.look(lamps, burn, false).chains >= e.want:
		return "Fix the " + e.lamp() + " to the bike."
	case e.steady && anyhow.look(lamps, burn, false).chains >= e.want:
		return "Set a " + e.lamp() + " to steady, and declare how long it lasts so."
	default:
		return ""
	}
}

// carries tells whether any lamp of this end was declared.
func (e lampEnd) carries(lamps []*pb.Light) bool {
	for _, lamp := range lamps {
		if lamp.GetEnd() == e.end {
			return true
		}
	}
	return false
}

// quality writes what a lamp must be like to count; it follows the lamp.
func (e lampEnd) quality() string {
	text := ""
	if e.steady {
		text += ", steady"
	}
	if e.onBike {
		text += ", fixed to the bike"
	}
	if e.lumens != nil {
		text += ", of " + decimal(*e.lumens) + " lm or more"
	}
	return text
}

// lasting writes how long lamps to carry must last; it follows the lamps.
func (e lampEnd) lasting(lamps int, min float64, burn burn) string {
	switch {
	case min == 0:
		return ""
	case lamps == 1:
		return ", that lasts at least " + burn.atRoom(min)
	default:
		return ", each of which lasts at least " + burn.atRoom(min)
	}
}

// undeclared names the facts about lamps of this end that were not declared and that the rule needs.
func (e lampEnd) undeclared(lamps []*pb.Light, burn burn) []string {
	var runtime, lumens, mount, mode bool
	for _, lamp := range lamps {
		if lamp.GetEnd() != e.end {
			continue
		}
		runtime = runtime || burn.needMin > 0 && lamp.GetPower() != pb.Light_DYNAMO && lamp.RuntimeMin == nil
		lumens = lumens || e.bright(lamp) == unknown
		mount = mount || e.mounted(lamp) == unknown
		mode = mode || e.steady && lamp.GetMode() == pb.Light_MODE_UNSPECIFIED
	}
	var facts []string
	for _, fact := range []struct {
		missing bool
		words   string
	}{
		{runtime, "how long the " + e.lamp() + " lasts in the mode used"},
		{lumens, "how many lumens the " + e.lamp() + " gives"},
		{mount, "where the " + e.lamp() + " sits"},
		{mode, "whether the " + e.lamp() + " is steady or flashing"},
	} {
		if fact.missing {
			facts = append(facts, fact.words)
		}
	}
	return facts
}
