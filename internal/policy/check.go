package policy

import (
	"slices"
	"strings"

	"gritward/internal/expression"
	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// checker looks for what is wrong in meaning with a policy whose form may have problems already.
type checker struct {
	policy    *pb.Policy
	positions *strictyaml.Positions
	told      []*pb.Problem // problems of form
	problems  []*pb.Problem
	programs  []*expression.Program // compiled expressions, by the rule's index; nil where a rule has none
}

// check finds what is wrong or doubtful in the meaning of a policy. Parts whose form is wrong are left alone.
// The expressions of its rules come back compiled.
func check(policy *pb.Policy, positions *strictyaml.Positions, told []*pb.Problem) ([]*pb.Problem, []*expression.Program) {
	c := &checker{policy: policy, positions: positions, told: told}
	c.programs = make([]*expression.Program, len(policy.GetRules()))
	if !positions.Has("title") && !positions.Has("rules") {
		return nil, nil // no policy was read
	}
	c.season()
	c.cold()
	c.rules()
	if len(told) == 0 && !slices.ContainsFunc(c.problems, isError) {
		c.doubts()
	}
	return c.problems, c.programs
}

func (c *checker) fail(path, message, hint string) {
	c.problems = append(c.problems, c.positions.Problem(pb.Problem_ERROR, path, message, hint))
}

func (c *checker) warn(path, message, hint string) {
	c.problems = append(c.problems, c.positions.Problem(pb.Problem_WARNING, path, message, hint))
}

// faulty tells whether the form of the path, or of anything beneath it, is wrong.
func (c *checker) faulty(path string) bool {
	for _, problem := range c.told {
		rest, ok := strings.CutPrefix(problem.GetPath(), path)
		if ok && (rest == "" || rest[0] == '.' || rest[0] == '[') {
			return true
		}
	}
	return false
}

func (c *checker) season() {
	for _, end := range []struct{ path, text string }{
		{"season.from", c.policy.GetSeason().GetFrom()},
		{"season.to", c.policy.GetSeason().GetTo()},
	} {
		if c.faulty("season") || !c.positions.Has(end.path) {
			continue
		}
		if _, err := readEnd(end.text); err != nil {
			c.fail(end.path, err.Error(), dayHint)
		}
	}
}

// cold wants the points of the curve in order of temperature, up or down, each once.
func (c *checker) cold() {
	const path = "lights.cold"
	if c.faulty(path) {
		return
	}
	points := c.policy.GetLights().GetCold()
	for i := 1; i < len(points); i++ {
		step := points[i].GetAtC() - points[i-1].GetAtC()
		if step == 0 || i > 1 && step > 0 != (points[1].GetAtC() > points[0].GetAtC()) {
			c.fail(pathOf(path, i), "the points of the curve are not in order of temperature",
				"write them from warm to cold or from cold to warm, each temperature once")
			return
		}
		if (points[i].GetLeft()-points[i-1].GetLeft())*step < 0 {
			c.warn(pathOf(path, i), "more run-time is left in the colder of two points",
				"batteries last less long in the cold; check the two numbers")
		}
	}
}
