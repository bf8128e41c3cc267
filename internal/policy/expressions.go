package policy

import (
	"gritward/internal/expression"
	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// expression compiles the expression of a rule, and tells each thing wrong with it where it stands in the file. After
// more problems than are told nothing more is compiled: a faulty expression takes longer than a sound one.
func (c *checker) expression(rule *pb.Rule, i int) {
	path := rulePath(i) + ".need"
	text := rule.GetExpression()
	if text == "" || c.faulty(path) || len(c.problems) > strictyaml.MaxProblems {
		return
	}
	program, issues := expression.Compile(text)
	for _, issue := range issues {
		at := strictyaml.Spot{Line: issue.Line, Column: issue.Column}
		c.problems = append(c.problems, c.positions.ProblemIn(path, text, at, issue.Message, issue.Hint))
	}
	c.programs[i] = program
}
