package readiness

import pb "gritward/proto/gritward/v1"

// verdict is what a check says about one rule.
type verdict struct {
	met bool
	// needed and declared are for a person: "full rear guard", "not declared".
	needed, declared string
	// todo are full sentences, each of which is needed to meet the rule.
	todo []string
	// notDeclared: the rule would be met, or might be, by facts that were not declared.
	notDeclared bool
}

// judge looks at one rule of its check. The rule applies.
type judge func(*context, *pb.Rule) verdict

// row is one check that rules may use.
type row struct {
	check pb.Check
	judge judge
}

// table lists the checks in the order of the protocol.
func table() []row {
	return []row{
		{pb.Check_GUARDS, judgeGuards},
		{pb.Check_LIGHTS, judgeLights},
		{pb.Check_DECLARATION, judgeDeclaration},
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

func judgeOf(check pb.Check) judge {
	for _, row := range table() {
		if row.check == check {
			return row.judge
		}
	}
	return nil
}

// unknownCheck is the verdict on a rule that this program cannot judge: never met, for safety's sake.
func unknownCheck(check pb.Check) verdict {
	return verdict{
		needed:   "check " + word(check),
		declared: "not looked at",
		todo:     []string{"This server does not know the check " + word(check) + ". Ask the club's secretary to change the rule, or the server's keeper to bring the program up to date."},
	}
}
