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
		sections = append(sections, section{
			name: e.name(), limits: limits, head: e.kindWords, fit: e.sayWhich,
			only: func(c *context) string {
				if k := e.of(c.facts).GetKind(); k == pb.Brake_KIND_UNSPECIFIED || k == pb.Brake_NONE {
					return e.kindWords(c)
				}
				return ""
			},
		})
	}
	return sections
}

func (e brakeEnd) name() string { return endWord(e.end) }

// kindWords names the brake.
func (e brakeEnd) kindWords(c *context) string {
	switch e.of(c.facts).GetKind() {
	case pb.Brake_NONE:
		return "no brake"
	case pb.Brake_RIM:
		return "rim brake"
	case pb.Brake_DISC:
		return "disc brake"
	case pb.Brake_HUB:
		return "hub brake"
	case pb.Brake_FIXED_WHEEL:
		return "fixed wheel"
	default:
		return "brake " + notDeclared
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
		needed: "a brake", declare: "the " + e.name() + " brake",
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

// kinds makes a question that is asked of some kinds of brake only.
func (e brakeEnd) kinds(kinds ...pb.Brake_Kind) func(*context) answer {
	var asked [8]answer // by kind
	for kind := range asked {
		asked[kind] = moot
	}
	asked[pb.Brake_KIND_UNSPECIFIED] = unknown
	for _, kind := range kinds {
		asked[kind] = yes
	}
	return func(c *context) answer { return asked[e.of(c.facts).GetKind()&7] }
}

// known makes a brake of a kind out of one of which no kind was declared.
func (e brakeEnd) known(f *pb.BikeFacts) *pb.Brake {
	b := e.own(f)
	if b.Kind == pb.Brake_KIND_UNSPECIFIED {
		b.Kind = pb.Brake_RIM
	}
	return b
}
