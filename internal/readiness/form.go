package readiness

import (
	"time"

	"gritward/internal/expression"
	pb "gritward/proto/gritward/v1"
)

// form is a rule made ready for judging many bikes: everything that does not depend on the bike or the group.
type form struct {
	when, unless uint32 // circumstances, a bit each
	cost         pb.Standing
	met          func(*context) bool // judges without words
	valid        time.Duration       // of DECLARATION; 0: the policy's
	needed       string              // of checks that are made of limits
	row          row
	known        bool      // the check is known, and the rule has its limits
	sections     []section // of checks that are made of limits
	lamps        []lampEnd // of LIGHTS
	before       string    // of LIGHTS; see lampsNeeded
	notApplied   string
	dayOnly      bool                // of the group it looks at the days alone
	program      *expression.Program // of EXPRESSION; nil: it is faulty
}

// NewRule makes a rule ready, with its line in the policy file, from 1. The message must not change afterwards.
func NewRule(rule *pb.Rule, line int) Rule { return newRule(rule, line, programOf(rule)) }

func newRule(rule *pb.Rule, line int, program *expression.Program) Rule {
	f := &form{
		when: setOf(rule.GetWhen()), unless: setOf(rule.GetUnless()), cost: cost(rule.GetOtherwise()),
		row: rowOf(rule.GetCheck()), notApplied: notApplied(rule), program: program,
	}
	f.known = canJudge(rule, f.row)
	if f.known && f.row.sections != nil {
		f.sections = f.row.sections(rule)
		join(f.sections)
		f.needed = asks(f.sections)
	}
	if own := rule.GetDeclaration().GetValid(); own != nil {
		f.valid = own.AsDuration()
		f.needed = declarationNeeded(f.valid)
	}
	if rule.GetCheck() == pb.Check_LIGHTS {
		f.lamps = lampEnds(rule.GetLights())
		f.needed, f.before = lampsNeeded(f.lamps)
	}
	f.dayOnly = f.known && (f.row.sections != nil || rule.GetCheck() == pb.Check_LIGHTS && !timed(f.lamps))
	f.met = f.withoutWords(rule)
	return Rule{Rule: rule, Line: line, form: f}
}

// ready is the rule with its form, made now where NewRule did not make it.
func (r Rule) ready() Rule {
	if r.form == nil {
		return NewRule(r.Rule, r.Line)
	}
	return r
}

// applies tells whether any circumstance of "when" holds and none of "unless" does.
func (f *form) applies(holds uint32) bool { return f.when&holds != 0 && f.unless&holds == 0 }

// setOf is a set of circumstances. One that is not known never holds.
func setOf(circumstances []pb.Circumstance) uint32 {
	var set uint32
	for _, c := range circumstances {
		if c > 0 && c < 32 {
			set |= 1 << c
		}
	}
	return set
}

// notApplied names a rule that does not apply, and when it would: "rear-light: when dark or poor-visibility".
func notApplied(rule *pb.Rule) string {
	text := rule.GetId() + ": when " + orList(circumstances(rule.GetWhen()))
	if len(rule.GetUnless()) > 0 {
		text += ", unless " + orList(circumstances(rule.GetUnless()))
	}
	return text
}

func circumstances(list []pb.Circumstance) []string {
	var words []string
	for _, c := range list {
		words = append(words, word(c))
	}
	return words
}

// Cost is the standing of a bike that breaks the rule.
func (r Rule) Cost() pb.Standing { return cost(r.GetOtherwise()) }

// cost is the standing of a bike that breaks a rule. A consequence that is not known holds the bike.
func cost(otherwise pb.Rule_Consequence) pb.Standing {
	switch otherwise {
	case pb.Rule_ADVISE:
		return pb.Standing_ADVISED
	case pb.Rule_BACK:
		return pb.Standing_BACK
	default:
		return pb.Standing_HELD
	}
}
