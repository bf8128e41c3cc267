package strictyaml

import (
	"cmp"
	"fmt"
	"slices"

	yaml "go.yaml.in/yaml/v4"

	pb "gritward/proto/gritward/v1"
)

// report collects problems, and remembers which paths have one so that none is told twice in other words.
type report struct {
	positions *Positions
	problems  []*pb.Problem
	exact     map[string]bool // paths with a problem
	above     map[string]bool // paths with a problem somewhere beneath them
}

func newReport(positions *Positions) *report {
	return &report{positions: positions, exact: map[string]bool{}, above: map[string]bool{}}
}

// at adds a problem at a place of the file.
func (r *report) at(line, column int, path, message, hint string) {
	r.problems = append(r.problems, r.positions.problemAt(line, column, path, message, hint))
	r.blame(path)
}

// node adds a problem at a node.
func (r *report) node(node *yaml.Node, path, message, hint string) {
	r.at(node.Line, node.Column, path, message, hint)
}

// loose adds a problem at a node whose path is not known.
func (r *report) loose(node *yaml.Node, message, hint string) {
	r.problems = append(r.problems, r.positions.problemAt(node.Line, node.Column, "", message, hint))
}

// blame marks a path as faulty without adding a problem.
func (r *report) blame(path string) {
	r.exact[path] = true
	for path != "" {
		path = parent(path)
		r.above[path] = true
	}
}

// blamed tells whether the path, anything around it or anything beneath it has a problem already.
func (r *report) blamed(path string) bool {
	if r.above[path] && path != "" {
		return true
	}
	for ; path != ""; path = parent(path) {
		if r.exact[path] {
			return true
		}
	}
	return r.exact[""]
}

// sorted gives the problems by position, at most MaxProblems and one that counts the rest. Only these get an excerpt: a
// bad file can have a hundred thousand.
func (r *report) sorted() []*pb.Problem {
	told := Sort(r.problems)
	for _, problem := range told {
		problem.Excerpt = r.positions.excerpt(int(problem.Line), int(problem.Column))
	}
	return told
}

// Sort orders problems by position and cuts them to MaxProblems, with one more that counts the rest. Where they are too
// many, warnings give way to errors, so that an error is never among those cut while a warning is told.
func Sort(problems []*pb.Problem) []*pb.Problem {
	isError := func(p *pb.Problem) bool { return p.Severity != pb.Problem_WARNING }
	if len(problems) > MaxProblems && slices.ContainsFunc(problems, isError) {
		problems = slices.DeleteFunc(problems, func(p *pb.Problem) bool { return !isError(p) })
	}
	slices.SortStableFunc(problems, func(a, b *pb.Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	if left := len(problems) - MaxProblems; left > 0 {
		last := problems[MaxProblems-1]
		problems = append(problems[:MaxProblems:MaxProblems], &pb.Problem{
			File: last.File, Line: last.Line, Column: last.Column, Severity: last.Severity,
			Message: fmt.Sprintf("and %d more problems from this line on", left),
			Hint:    "put right those above, then check the file again",
		})
	}
	return problems
}
