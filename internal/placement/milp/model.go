// Package milp writes mixed-integer linear programs in the CPLEX LP format and
// has GLPK or CBC solve them, for tests that compare with an independent solver.
package milp

import (
	"bufio"
	"fmt"
	"io"
)

// Model is a program over variables that are 0 or 1: minimise the objective
// within the rows.
type Model struct {
	objective []term
	rows      []row
	vars      int
}

// Var is a variable.
type Var int

// None is no variable; a term of it counts as 0.
const None Var = -1

type term struct {
	times int64
	v     Var
}

type row struct {
	terms []term
	sense string
	right int64
}

// Sum is a sum of variables, each a number of times.
type Sum []term

// Add appends a variable some times; it does nothing for None or 0 times.
func (s *Sum) Add(times int64, v Var) {
	if v != None && times != 0 {
		*s = append(*s, term{times, v})
	}
}

// Binary makes a variable.
func (m *Model) Binary() Var {
	m.vars++
	return Var(m.vars - 1)
}

// Row adds a row: the sum is at most ("<="), at least (">=") or equal to ("=")
// the right side.
func (m *Model) Row(s Sum, sense string, right int64) {
	if len(s) == 0 { // the format has no empty rows
		if sense != ">=" && right < 0 || sense != "<=" && right > 0 {
			never := m.Binary()
			m.rows = append(m.rows, row{Sum{{1, never}}, ">=", 2})
		}
		return
	}
	m.rows = append(m.rows, row{s, sense, right})
}

// Minimise sets the objective.
func (m *Model) Minimise(s Sum) { m.objective = s }

// Write writes the program in the CPLEX LP format, which GLPK and CBC read.
func (m *Model) Write(to io.Writer) error {
	w := bufio.NewWriter(to)
	fmt.Fprint(w, "Minimize\n obj:")
	if len(m.objective) == 0 {
		fmt.Fprint(w, " 0 v0")
	}
	writeTerms(w, m.objective)
	fmt.Fprint(w, "\nSubject To\n")
	for i, r := range m.rows {
		fmt.Fprintf(w, " c%d:", i)
		writeTerms(w, r.terms)
		fmt.Fprintf(w, " %s %d\n", r.sense, r.right)
	}
	fmt.Fprint(w, "Binary\n")
	for v := range m.vars {
		fmt.Fprintf(w, " v%d\n", v)
	}
	fmt.Fprint(w, "End\n")
	return w.Flush()
}

func writeTerms(w io.Writer, terms []term) {
	for i, t := range terms {
		if i%8 == 7 { // some readers bound the length of a line
			fmt.Fprint(w, "\n ")
		}
		fmt.Fprintf(w, " %+d v%d", t.times, t.v)
	}
}
