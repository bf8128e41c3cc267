package readiness

import pb "gritward/proto/gritward/v1"

// mechanic is the caution beside everything about brakes that a member may not be sure of.
const mechanic = "; in doubt a mechanic must look before the bike is ridden"

// brakeSections looks at both brakes, each as far as its kind has the part. Pads and discs: the common limits of the
// trade, each beside its limit; a maker's own figure comes first.
func brakeSections(rule *pb.Rule) []section {
	need := rule.GetBrakes()
	if need == nil {
		return nil
	}
	var sections []section
	for _, end := range ends() {
		e := brakeEnd{end}
		var limits []limit
		if need.BothEnds {
			limits = append(limits, e.there())
		}
		limits = append(limits, e.padLimits(need)...)
		limits = append(limits, e.surfaceLimits(need)...)
		limits = append(limits, e.stateLimits(need)...)
		sections = append(sections, e.section(limits))
	}
	return sections
}

// section asks each limit of the kinds of brake that have the part, and all of a brake of which the kind is not known.
func (e brakeEnd) section(limits []limit) section {
	for i := range limits {
		l := &limits[i]
		look, kinds := l.look, l.kinds
		if kinds == 0 {
			continue
		}
		l.look = func(c *context) answer {
			if kind := e.of(c.facts).GetKind() & 7; kind != 0 && kinds>>kind&1 == 0 {
				return moot
			}
			return look(c)
		}
	}
	return section{name: e.name(), limits: limits, head: e.kindWords, fit: e.sayWhich}
}

// kinds is a set of kinds of brake.
func kinds(of ...pb.Brake_Kind) uint8 {
	var set uint8
	for _, kind := range of {
		set |= 1 << kind
	}
	return set
}

func (e brakeEnd) name() string { return endWord(e.end) }

// kindWords names the brake; of none, or of one that is not known, nothing more is said.
func (e brakeEnd) kindWords(c *context) (text string, alone bool) {
	switch e.of(c.facts).GetKind() {
	case pb.Brake_NONE:
		return "no brake", true
	case pb.Brake_RIM:
		return "rim brake", false
	case pb.Brake_DISC:
		return "disc brake", false
	case pb.Brake_HUB:
		return "hub brake", false
	case pb.Brake_FIXED_WHEEL:
		return "fixed wheel", false
	default:
		return "brake " + notDeclared, true
	}
}

// sayWhich is the one thing to do where it is not known what brake there is.
func (e brakeEnd) sayWhich(c *context) string {
	if e.of(c.facts).GetKind() == pb.Brake_KIND_UNSPECIFIED {
		return "Declare the " + e.name() + " brake: its kind, and the state of its pads and of what they brake on."
	}
	return ""
}

// there asks for a brake. In Great Britain a cycle with a freewheel must have two independent brakes, one for each wheel;
// one with a fixed wheel may do with a front brake (SI 1983/1176 reg 7(1)(b)): a fixed wheel counts, at the rear.
func (e brakeEnd) there() limit {
	return limit{
		needed: "a brake", work: work{does: jobBrake.at(e.end)}, declare: "the " + e.name() + " brake",
		look: func(c *context) answer {
			kind := e.of(c.facts).GetKind()
			good := kind != pb.Brake_NONE && (kind != pb.Brake_FIXED_WHEEL || e.end == pb.End_REAR)
			return answerOf(kind != pb.Brake_KIND_UNSPECIFIED, good)
		},
		todo: always("Have a " + e.name() + " brake fitted and checked by a mechanic before the bike is ridden: the law asks for both brakes in many places."),
		mend: func(c *context) { // a new brake is new all over
			b := e.own(c.facts)
			b.Kind, b.LookedOn = pb.Brake_RIM, c.startDay.text()
			b.PadMm, b.RimWear, b.Contaminated, b.Glazed = ptr(15.0), pb.Brake_WITHIN, ptr(false), ptr(false)
		},
	}
}

// known makes a brake of a kind out of one of which no kind was declared.
func (e brakeEnd) known(f *pb.BikeFacts) *pb.Brake {
	b := e.own(f)
	if b.Kind == pb.Brake_KIND_UNSPECIFIED {
		b.Kind = pb.Brake_RIM
	}
	return b
}
