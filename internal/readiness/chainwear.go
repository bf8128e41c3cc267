package readiness

import (
	"fmt"

	pb "gritward/proto/gritward/v1"
)

// chainWear asks how long the chain has become, by the number of sprockets. Tool and workshop guides: replace at 0.5 %
// for 11 sprockets and more, at 0.75 % for 8 to 10; common practice: at 1.0 % for single speed and hub gears. At the
// limit it must be replaced: the rule is met below it. Where the number of sprockets was not declared, wear below every
// limit still meets the rule, and wear at or above every limit breaks it.
func chainWear(limits []*pb.ChainWearLimit) limit {
	limits = ladder(limits)
	return limit{
		needed: chainNeeded(limits), work: work{does: jobChainRenew}, declare: "the chain's wear and the number of sprockets",
		look: func(c *context) answer { return wearAnswer(limits, c) },
		declared: func(c *context, w *words) {
			chain := c.facts.GetChain()
			chainWords(c, chain, w)
			if chain != nil && chain.Speeds != nil {
				w.add(", ")
				w.count(int(chain.GetSpeeds()), "sprocket")
			} else {
				w.add(", sprockets " + notDeclared)
			}
		},
		todo: always("Renew the chain, and the sprockets on which a new one skips: a chain worn so far wears them out, and can break."),
		mend: func(c *context) {
			chain := made(&c.facts.Chain)
			chain.WearPct, chain.MeasuredOn, chain.Speeds = ptr(0.0), c.startDay.text(), ptr(max(chain.GetSpeeds(), 1))
		},
	}
}

func wearAnswer(limits []*pb.ChainWearLimit, c *context) answer {
	chain := c.facts.GetChain()
	if chain == nil {
		return unknown
	}
	if chain.Speeds != nil {
		pct, asked := 0.0, false
		for _, l := range limits {
			if l.GetSpeedsFrom() <= chain.GetSpeeds() {
				pct, asked = l.GetPct(), true
			}
		}
		if !asked {
			return moot
		}
		return answerOf(chain.WearPct != nil, chain.GetWearPct() < pct)
	}
	if chain.WearPct == nil {
		return unknown
	}
	below, above := true, limits[0].GetSpeedsFrom() <= 1
	for _, l := range limits {
		if chain.GetWearPct() < l.GetPct() {
			above = false
		} else {
			below = false
		}
	}
	switch {
	case below:
		return yes
	case above:
		return no
	default:
		return unknown
	}
}

// chainWords writes "chain 0.4 % (measured on 21 November 2026, care log)".
func chainWords(c *context, chain *pb.Chain, w *words) {
	if chain == nil || chain.WearPct == nil {
		w.add("chain wear " + notDeclared)
		return
	}
	did := "measured"
	if c.log.has(fromChainNew) {
		w.add("new chain")
		did = "renewed"
	} else {
		w.add("chain ")
		w.measure(chain.GetWearPct(), " %")
	}
	on, logged := c.day(chain.GetMeasuredOn()), c.log.has(fromChainWear|fromChainNew)
	if on != noDay {
		w.add(" (")
		w.add(did)
		w.add(" on ")
		w.day(on)
		if logged {
			w.add(", care log")
		}
		w.add(")")
	} else if logged {
		w.add(" (care log)")
	}
}

// chainNeeded writes "chain wear below 1 % (1 sprocket), 0.75 % (2 to 10) or 0.5 % (11 and more)".
func chainNeeded(limits []*pb.ChainWearLimit) string {
	var parts []string
	for i, l := range limits {
		from, text := l.GetSpeedsFrom(), fmt.Sprintf("%s %% ", decimal(l.GetPct()))
		switch {
		case i+1 == len(limits) && from == 1 && i == 0:
			text = text[:len(text)-1]
		case i+1 == len(limits):
			text += fmt.Sprintf("(%d sprockets and more)", from)
		case limits[i+1].GetSpeedsFrom() <= from+1:
			text += fmt.Sprintf("(%s)", count(int(from), "sprocket"))
		default:
			text += fmt.Sprintf("(%d to %d sprockets)", from, limits[i+1].GetSpeedsFrom()-1)
		}
		parts = append(parts, text)
	}
	return "chain wear below " + orList(parts)
}
