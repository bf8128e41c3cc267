package readiness

import (
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	pb "gritward/proto/gritward/v1"
)

// Rule is one rule of a policy with its line in the policy file, from 1.
type Rule struct {
	*pb.Rule
	Line int
}

// Book is what a policy says to the checks. Nothing in it is changed by assessing.
type Book struct {
	// Rules in the order in which findings are told.
	Rules []Rule
	// Lamp says how lamps are reckoned; nil: no reserve and the usual battery in the cold.
	Lamp *pb.LampReckoning
	// DeclarationValid is the age up to which a declaration counts, where a rule gives none.
	DeclarationValid time.Duration
	// Digest names the policy.
	Digest string
}

// Subject is one bike.
type Subject struct {
	// Bike is its resource name.
	Bike string
	// Declaration is the one that counts; nil where none was made.
	Declaration *pb.Declaration
	// Care is its care log. No check reads it yet.
	Care []*pb.CareEntry
}

// Assess judges the bike by every rule of the book that applies to the group. A nil group stands for a day without a
// ride that begins now, on which no circumstance but ALWAYS holds. at is when the judging happens; dates in findings
// are those of its time zone.
func Assess(book Book, bike Subject, group *pb.GroupPlan, at time.Time) *pb.Assessment {
	c := newContext(book, bike, group, at)
	result := &pb.Assessment{
		Bike:                bike.Bike,
		DeclarationRevision: bike.Declaration.GetRevision(),
		Group:               group.GetGroup(),
		PolicyDigest:        book.Digest,
		AssessedAt:          timestamppb.New(at),
	}
	for _, rule := range book.Rules {
		if !applies(rule.Rule, c.group) {
			result.NotApplied = append(result.NotApplied, notApplied(rule.Rule))
			continue
		}
		result.Findings = append(result.Findings, find(c, rule))
	}
	result.Standing = Worst(result.Findings, nil)
	return result
}

// Worst is the worst standing of the findings, those left out whose rule is set aside; CLEAR where none is left.
func Worst(findings []*pb.Finding, setAside map[string]bool) pb.Standing {
	worst := pb.Standing_CLEAR
	for _, finding := range findings {
		if !setAside[finding.GetRule()] {
			worst = max(worst, finding.GetStanding())
		}
	}
	return worst
}

// find judges one rule.
func find(c *context, rule Rule) *pb.Finding {
	v := unknownCheck(rule.GetCheck())
	if judge := judgeOf(rule.GetCheck()); judge != nil {
		v = judge(c, rule.Rule)
	}
	finding := &pb.Finding{
		Rule: rule.GetId(), Check: rule.GetCheck(), Standing: pb.Standing_CLEAR,
		Needed: v.needed, Declared: v.declared, Because: rule.GetBecause(), PolicyLine: int32(rule.Line),
	}
	if !v.met {
		finding.Standing = cost(rule.GetOtherwise())
		finding.Remedy = remedy(v.todo, rule.GetOtherwise())
		finding.NotDeclared = v.notDeclared
	}
	return finding
}

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
