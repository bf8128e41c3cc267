package readiness

import (
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	pb "gritward/proto/gritward/v1"
)

// Rule is one rule of a policy with its line in the policy file, from 1. Rules that judge more than one bike should come
// from NewRule; others are made ready each time.
type Rule struct {
	*pb.Rule
	Line int
	form *form
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
	// Care is its care log, in any order. What it says later than the declaration overrides it; what it says earlier fills
	// in what the declaration leaves out; see Effective.
	Care []*pb.CareEntry
	// LastWetRideOn is the civil date of the last wet ride of the club that the bike rode home, YYYY-MM-DD; "" for none.
	LastWetRideOn string
	// Looks are the look-overs of the bike for the ride that it is judged for, oldest first. What they found comes before
	// everything declared or logged; see Outstanding.
	Looks []*pb.LookOver
	// HeldEverywhere: every group of the ride holds the bike, so that no other group is told as a way out.
	HeldEverywhere bool
}

// Assess judges the bike by every rule of the book that applies to the group. A nil group stands for a day without a
// ride that begins now, on which no circumstance but ALWAYS holds. at is when the judging happens; dates in findings
// are those of its time zone, which should be the club's.
func Assess(book Book, bike Subject, group *pb.GroupPlan, at time.Time) *pb.Assessment {
	result := assess(book, bike, group, at)
	tellLooks(book, bike, group, at, result)
	return result
}

// Unmet is Assess for one group after the other, with those findings alone that are not met, and without the rules that did not
// apply: for telling what is wrong with many bikes. Groups of which the same is told share their findings, which must not be changed.
func Unmet(book Book, bike Subject, groups []*pb.GroupPlan, at time.Time) []*pb.Assessment {
	all := make([]*pb.Assessment, 0, len(groups))
	if len(Outstanding(bike.Looks)) > 0 { // what was declared is told beside, rule by rule
		for _, group := range groups {
			result := Assess(book, bike, group, at)
			result.NotApplied = nil
			result.Findings = slices.DeleteFunc(result.Findings, func(f *pb.Finding) bool { return f.Standing == pb.Standing_CLEAR })
			all = append(all, result)
		}
		return all
	}
	c := borrowed(&book, &bike, nil, at)
	defer c.giveBack()
	for _, group := range groups {
		c.in(group)
		all = append(all, c.told(&bike, false))
	}
	return all
}

// assess is Assess, without the words that say what a look-over found.
func assess(book Book, bike Subject, group *pb.GroupPlan, at time.Time) *pb.Assessment {
	c := borrowed(&book, &bike, group, at)
	defer c.giveBack()
	return c.told(&bike, true)
}

// told tells the findings of all rules, or of those that are not met.
func (c *context) told(bike *Subject, all bool) *pb.Assessment {
	if c.stamp == nil {
		c.stamp = timestamppb.New(c.at)
	}
	result := &pb.Assessment{
		Bike:                bike.Bike,
		DeclarationRevision: bike.Declaration.GetRevision(),
		Group:               c.group.GetGroup(),
		PolicyDigest:        c.book.Digest,
		AssessedAt:          c.stamp,
	}
	c.rules = c.rules[:0]
	for i := range c.book.Rules {
		rule := &c.book.Rules[i]
		if rule.form == nil {
			made := rule.ready()
			rule = &made
		}
		switch applies := rule.form.applies(c.holds); {
		case !applies && all:
			result.NotApplied = append(result.NotApplied, rule.form.notApplied)
		case applies && (all || !c.met(i, rule.form)):
			c.rules = append(c.rules, rule)
		}
	}
	if !all && len(c.rules) > 0 && slices.Equal(c.rules, c.before) {
		result.Findings, result.Standing = c.findings, c.worst
		return result
	}
	c.tell(c.rules, result)
	c.before = c.before[:0]
	if !slices.ContainsFunc(c.rules, func(r *Rule) bool { return !r.form.dayOnly }) {
		c.before = append(c.before, c.rules...)
		c.findings, c.worst = result.Findings, result.Standing
	}
	return result
}

// textPerRule is about how much text a finding has, bytes: room that is made for it beforehand.
const textPerRule = 100

// tell adds a finding for each of the rules, which all apply, and their worst standing.
func (c *context) tell(rules []*Rule, result *pb.Assessment) {
	result.Standing = pb.Standing_CLEAR
	n := len(rules)
	if n == 0 {
		return
	}
	findings := make([]pb.Finding, n)
	result.Findings = make([]*pb.Finding, n)
	var w words
	var v verdict
	var todo []asked
	var unmet []*pb.Finding
	w.b.Grow(textPerRule * n)
	for i, rule := range rules {
		finding := &findings[i]
		v = verdict{}
		rule.tell(c, &w, &v)
		rule.finding(finding, &v)
		if !v.met {
			todo, unmet = append(todo, asked{rule.Id, finding.Standing, v.todo}), append(unmet, finding)
		}
		result.Standing = max(result.Standing, finding.Standing)
		result.Findings[i] = finding
	}
	settle(todo)
	for i, finding := range unmet {
		finding.Remedy = remedy(todo[i].todo)
	}
}

// finding fills in what a verdict means, but for its remedy.
func (r Rule) finding(finding *pb.Finding, v *verdict) {
	finding.Rule, finding.Check, finding.Because = r.Id, r.Check, r.Because
	finding.Needed, finding.Declared = v.needed, v.declared
	finding.PolicyLine, finding.Standing = int32(r.Line), pb.Standing_CLEAR
	if !v.met {
		finding.Standing = r.form.cost
		finding.NotDeclared = v.notDeclared && !v.failed
		for _, s := range v.todo {
			if s.short {
				finding.Shortfall = within(s.text)
			}
		}
	}
}

// Standing is the standing of Assess, without its findings: for judging many bikes.
func Standing(book Book, bike Subject, group *pb.GroupPlan, at time.Time) pb.Standing {
	c := borrowed(&book, &bike, group, at)
	worst := c.standing()
	c.giveBack()
	return worst
}

// standing is the worst cost of the rules not met. A rule that costs no more than one already broken is not looked at.
func (c *context) standing() pb.Standing {
	worst, rules := pb.Standing_CLEAR, c.book.Rules
	for i := range rules {
		f := rules[i].form
		if f == nil {
			f = rules[i].ready().form
		}
		if f.cost > worst && f.applies(c.holds) && !f.met(c) {
			worst = f.cost
			if worst == pb.Standing_HELD {
				break
			}
		}
	}
	return worst
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
