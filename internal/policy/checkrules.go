package policy

import (
	"fmt"
	"slices"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/readiness"
	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

func pathOf(list string, i int) string { return fmt.Sprintf("%s[%d]", list, i) }

func word(value protoreflect.Enum) string {
	d := value.Descriptor().Values().ByNumber(value.Number())
	if d == nil {
		return fmt.Sprint(value.Number())
	}
	return strictyaml.Word(d)
}

// rules looks at each rule.
func (c *checker) rules() {
	first := map[string]int{}
	for i, rule := range c.policy.GetRules() {
		path := rulePath(i)
		if id := rule.GetId(); id != "" {
			if line, ok := first[id]; ok {
				c.fail(path+".id", fmt.Sprintf("the id %q is used twice; the first is on line %d", id, line), "give each rule an id of its own")
			} else {
				first[id] = c.positions.Line(path + ".id")
			}
		}
		c.kind(rule, path)
		c.expression(rule, i)
		c.wear(rule, path)
		c.reach(rule, path)
	}
}

// kind refuses a check that no program part looks at, and a check without the limits it needs.
func (c *checker) kind(rule *pb.Rule, path string) {
	kind := rule.GetCheck()
	switch {
	case kind == pb.Check_CHECK_UNSPECIFIED:
	case !slices.Contains(readiness.Known(), kind):
		c.fail(path+".check", fmt.Sprintf("the check %s is not known yet", word(kind)), "known are: "+strings.Join(knownChecks(), ", "))
	case rule.GetNeed() == nil && kind != pb.Check_DECLARATION && !c.positions.Has(path+".need") && !c.faulty(path):
		c.fail(path, fmt.Sprintf("need is missing: the check %s needs limits", word(kind)), "add a line such as  need: "+needExamples()[kind])
	}
}

// needExamples are what the limits of a rule may look like, for each check that needs some.
func needExamples() map[pb.Check]string {
	return map[pb.Check]string{
		pb.Check_GUARDS:     "{rear: full}",
		pb.Check_LIGHTS:     "{rear: 1}",
		pb.Check_REFLECTORS: "{rear: true}",
		pb.Check_BRAKES:     "{both_ends: true}",
		pb.Check_TYRES:      "{cuts: small}",
		pb.Check_CHAIN:      "{lubricated_within: 14d}",
		pb.Check_BEARINGS:   "{smooth: true}",
		pb.Check_CONTACT:    "{tape_sound: true}",
		pb.Check_FRAME:      "{no_open_damage: true}",
		pb.Check_CLEAN:      "{washed_within: 14d}",
		pb.Check_CARRY:      "{tubes: 2}",
		pb.Check_EXPRESSION: "bike.odometer_km < 20000",
	}
}

// reach refuses a rule that can never apply, and doubts one that never applies for one of its circumstances.
func (c *checker) reach(rule *pb.Rule, path string) {
	unless := rule.GetUnless()
	dead := func(circumstance pb.Circumstance) bool {
		return slices.Contains(unless, circumstance) || slices.Contains(unless, pb.Circumstance_ALWAYS)
	}
	when := rule.GetWhen()
	if len(when) == 0 || c.faulty(path+".when") || c.faulty(path+".unless") {
		return
	}
	alive := slices.DeleteFunc(slices.Clone(when), dead)
	switch {
	case len(alive) == 0:
		c.fail(path+".unless", fmt.Sprintf("the rule %s can never apply: unless takes away everything that when names", rule.GetId()),
			"take out of unless what stands in when")
	case len(alive) < len(when):
		c.warn(path+".unless", fmt.Sprintf("unless takes away a part of what when names in the rule %s", rule.GetId()),
			"take it out of when, where it has no effect")
	}
}
