package readiness

import pb "gritward/proto/gritward/v1"

// verdict is what a check says about one rule.
type verdict struct {
	met bool
	// needed and declared are for a person: "full rear guard", "not declared".
	needed, declared string
	// todo are the sentences of the remedy.
	todo []sentence
	// notDeclared: the rule would be met, or might be, by facts that were not declared.
	notDeclared bool
	// failed: something that was declared is not as the rule asks.
	failed bool
}

// sentence is one sentence of a remedy.
type sentence struct {
	text string
	// declare is a fact to declare, in place of a text.
	declare string
	// aside: it is no work to be done, but a reason or another way out; last: it goes to the end.
	aside, last bool
	// short: it says how much is missing.
	short bool
	work
}

// work is how a sentence of a remedy goes with others.
type work struct {
	does  job // the work that the sentence asks for
	under job // work with which it is done, or of no use any more
	// with is work beside which alt is said in its place.
	with job
	alt  string
}

// judge looks at one rule of its check, with words.
type judge func(*context, Rule, *words) verdict

// row is one check that rules may use: either a list of limits, or functions of its own.
type row struct {
	check pb.Check
	// sections gives the limits of a rule.
	sections func(*pb.Rule) []section
	// quick makes a look at all of them in one go; nil: each is looked at. See quick.go.
	quick func(*pb.Rule) func(*context) bool
	// silent is the one sentence to say where nothing at all was declared; empty: what each section says.
	silent string
	// tell judges, with words; met makes what does the same without, and faster; mend makes the rule met, as far as work on the
	// bike can, by changing the context, whose facts and declaration are its own.
	tell judge
	met  func(*form) func(*context) bool
	mend func(*context, Rule)
}

// rowOf finds the row of a check in the order of the protocol.
func rowOf(check pb.Check) row {
	for _, row := range table() {
		if row.check == check {
			return row
		}
	}
	return row{}
}

func table() []row {
	return []row{
		{check: pb.Check_GUARDS, sections: guardSections, quick: quickGuards},
		{check: pb.Check_LIGHTS, tell: tellLights, met: metLights, mend: mendLights},
		{check: pb.Check_REFLECTORS, sections: reflectorSections, quick: quickReflectors},
		{check: pb.Check_BRAKES, sections: brakeSections, quick: quickBrakes},
		{check: pb.Check_TYRES, sections: tyreSections, quick: quickTyres},
		{check: pb.Check_CHAIN, sections: chainSections},
		{check: pb.Check_BEARINGS, sections: bearingSections, quick: quickBearings,
			silent: "Declare of each bearing whether it is smooth and when it was last serviced: headset, bottom bracket, hubs and pedals."},
		{check: pb.Check_CONTACT, sections: contactSections, quick: quickContact},
		{check: pb.Check_FRAME, sections: frameSections, quick: quickFrame},
		{check: pb.Check_CLEAN, sections: cleanSections, quick: quickClean},
		{check: pb.Check_CARRY, sections: carrySections, quick: quickCarry},
		{check: pb.Check_DECLARATION, tell: tellDeclaration, met: metDeclaration, mend: mendDeclaration},
		{check: pb.Check_EXPRESSION, tell: tellExpression, met: metExpression},
	}
}

// Known lists the checks that rules may use, in order.
func Known() []pb.Check {
	var known []pb.Check
	for _, row := range table() {
		known = append(known, row.check)
	}
	return known
}

// canJudge tells whether a rule's check is known and the rule has the limits of it, in the field that is named like the
// check. Of DECLARATION the policy has the limit.
func canJudge(rule *pb.Rule, row row) bool {
	if row.check == pb.Check_CHECK_UNSPECIFIED {
		return false
	}
	m := rule.ProtoReflect()
	set := m.WhichOneof(m.Descriptor().Oneofs().ByName("need"))
	if set == nil {
		return row.check == pb.Check_DECLARATION
	}
	return string(set.Name()) == word(row.check)
}

// tell judges a rule, with words. The verdict must be new.
func (r Rule) tell(c *context, w *words, v *verdict) {
	switch {
	case !r.form.known:
		*v = unknownCheck(r.GetCheck())
	case r.form.row.tell != nil:
		*v = r.form.row.tell(c, r, w)
	default:
		tell(c, r.form.sections, w, v)
		v.needed = r.form.needed
		if r.form.row.silent != "" && v.declared == notDeclared {
			v.todo = do(r.form.row.silent)
		}
	}
}

// withoutWords makes what judges a rule without words.
func (f *form) withoutWords(rule *pb.Rule) func(*context) bool {
	looks := looks(f.sections)
	switch {
	case !f.known:
		return func(*context) bool { return false }
	case f.row.met != nil:
		return f.row.met(f)
	case f.row.quick != nil && len(looks) > 0:
		return f.row.quick(rule)
	}
	return func(c *context) bool {
		for _, look := range looks {
			if look(c) < yes {
				return false
			}
		}
		return true
	}
}

// mend makes the rule met, as far as work on the bike can.
func (r Rule) mend(c *context) {
	if r.form.row.mend != nil {
		r.form.row.mend(c, r)
	} else {
		mend(c, r.form.sections)
	}
}

// unknownCheck is the verdict on a rule that this program cannot judge: never met, for safety's sake.
func unknownCheck(check pb.Check) verdict {
	return verdict{
		needed:   "check " + word(check),
		declared: "not looked at",
		todo: []sentence{{text: "This server does not know the check " + word(check) + ", or the rule has no limits. Ask the club's " +
			"secretary to change the rule, or the server's keeper to bring the program up to date.", aside: true}},
	}
}
