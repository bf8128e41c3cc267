package readiness

import (
	"math"
	"strings"

	pb "gritward/proto/gritward/v1"
)

// judgeLights looks at lamps. For each end the rule asks for so many lamps at a time, for as long as the group needs
// lights plus the policy's reserve; lamps of one end may be used one after the other. A group that needs no lights asks
// for the lamps, whatever their run-time.
func judgeLights(c *context, rule *pb.Rule) verdict {
	burn := newBurn(c)
	lamps := c.facts.GetLights()
	v := verdict{met: true}
	var asks, declared []string
	for _, end := range lampEnds(rule.GetLights()) {
		if end.want == 0 {
			continue
		}
		strict, hopeful := end.look(lamps, burn, false), end.look(lamps, burn, true)
		asks = append(asks, end.asks())
		declared = append(declared, declaredLamps(end, lamps, burn))
		if strict.chains >= end.want {
			continue
		}
		v.met = false
		v.notDeclared = v.notDeclared || len(lamps) == 0 || hopeful.chains >= end.want
		v.todo = append(v.todo, end.todo(lamps, burn, strict, hopeful)...)
	}
	v.needed = andList(asks) + burn.forMinutes()
	v.declared = strings.Join(declared, "; ")
	if len(lamps) == 0 {
		v.declared = notDeclared
	}
	if !v.met && burn.needMin > 0 && len(lamps) > 0 {
		v.todo = append(v.todo, "Or ride in a group that is home earlier.")
	}
	return v
}

// burn is how long lamps have to last, and what the cold leaves of them.
type burn struct {
	litMin, reserveMin, needMin float64
	// left is the part of a battery's run-time that is left.
	left float64
	// temperatureC is nil where not known; then no loss is reckoned.
	temperatureC *float64
}

func newBurn(c *context) burn {
	b := burn{litMin: c.group.GetLitMin(), left: 1, temperatureC: c.group.TemperatureMinC}
	if math.IsNaN(b.litMin) {
		b.litMin = math.Inf(1) // not known: no battery is enough
	}
	if b.litMin > 0 {
		b.reserveMin = c.book.Lamp.GetReserve().AsDuration().Minutes()
		b.needMin = b.litMin + b.reserveMin
	}
	if b.temperatureC != nil {
		b.left = ColdFraction(c.book.Lamp.GetCold(), *b.temperatureC)
	}
	return b
}

// lampEnd is what a rule asks of one end.
type lampEnd struct {
	end            pb.End
	want           int
	lumens         *float64 // least flux of a lamp that counts
	steady, onBike bool
}

// lampEnds are what the rule asks of front and rear.
func lampEnds(need *pb.LightsNeed) []lampEnd {
	front := lampEnd{pb.End_FRONT, int(need.GetFront()), nil, need.GetSteady(), need.GetOnBike()}
	rear := lampEnd{pb.End_REAR, int(need.GetRear()), nil, need.GetSteady(), need.GetOnBike()}
	if need != nil {
		front.lumens, rear.lumens = need.FrontLumens, need.RearLumens
	}
	return []lampEnd{front, rear}
}

// look finds what the lamps of this end can do. Hopeful takes every fact that was not declared for the best.
func (e lampEnd) look(lamps []*pb.Light, burn burn, hopeful bool) coverage {
	var sources []source
	for _, lamp := range lamps {
		if lamp.GetEnd() != e.end {
			continue
		}
		counts := answerAll(e.bright(lamp), e.mounted(lamp))
		if counts == no || counts == unknown && !hopeful {
			continue
		}
		sources = append(sources, source{
			minutes: lampMinutes(lamp, burn, hopeful),
			steady:  lamp.GetMode() == pb.Light_STEADY || hopeful && lamp.GetMode() == pb.Light_MODE_UNSPECIFIED,
		})
	}
	return lasts(sources, e.want, burn.needMin, e.steady)
}

// bright tells whether the lamp gives the light asked for.
func (e lampEnd) bright(lamp *pb.Light) answer {
	if e.lumens == nil {
		return yes
	}
	return answerOf(lamp.Lumens != nil, lamp.GetLumens() >= *e.lumens)
}

// mounted tells whether the lamp sits where the rule asks.
func (e lampEnd) mounted(lamp *pb.Light) answer {
	if !e.onBike {
		return yes
	}
	return answerOf(lamp.GetMount() != pb.Light_MOUNT_UNSPECIFIED, lamp.GetMount() == pb.Light_BIKE)
}

// answerAll is yes when all are, no when any is.
func answerAll(answers ...answer) answer {
	result := yes
	for _, a := range answers {
		if a == no {
			return no
		}
		result = min(result, a)
	}
	return result
}

// lampMinutes is how long a lamp lasts in the cold of the ride. A dynamo lasts for ever. A battery lamp whose run-time
// was not declared lasts no time, or for ever when taken for the best.
func lampMinutes(lamp *pb.Light, burn burn, hopeful bool) float64 {
	switch {
	case lamp.GetPower() == pb.Light_DYNAMO:
		return math.Inf(1)
	case lamp.RuntimeMin != nil:
		return lamp.GetRuntimeMin() * burn.left
	case hopeful:
		return math.Inf(1)
	default:
		return 0
	}
}
