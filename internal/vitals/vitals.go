// Package vitals tells how a server is, and why: what was found, what it means, and what to do.
package vitals

import (
	"context"
	"fmt"
	"io"
	"sync"
	"time"
)

// State is how one thing is, or all of them.
type State string

// The states, from good to bad. Warning: calls are answered, and somebody should look. Failing: the server does not do what it is for.
const (
	OK      State = "ok"
	Warning State = "warning"
	Failing State = "failing"
)

// rank orders the states, the worst last.
func (s State) rank() int {
	switch s {
	case Failing:
		return 2
	case Warning:
		return 1
	}
	return 0
}

// Finding is what was found of one thing.
type Finding struct {
	// Check is what was looked at, in one word or two with a hyphen; no data stands in it.
	Check string `json:"check"`
	State State  `json:"state"`
	// Found is what was found, in words.
	Found string `json:"found"`
	// Means is what that means, and Next what to do; both are empty where all is well.
	Means string `json:"means,omitempty"`
	Next  string `json:"next,omitempty"`
}

// Well is a finding of which there is nothing to do.
func Well(check, format string, args ...any) Finding {
	return Finding{Check: check, State: OK, Found: fmt.Sprintf(format, args...)}
}

// Check looks at one thing.
type Check func(context.Context) Finding

// Report is what was found of all.
type Report struct {
	// State is the worst of the findings.
	State    State     `json:"state"`
	Findings []Finding `json:"findings"`
}

// Sum puts findings into a report.
func Sum(findings []Finding) Report {
	r := Report{State: OK, Findings: findings}
	for _, f := range findings {
		if f.State.rank() > r.State.rank() {
			r.State = f.State
		}
	}
	return r
}

// Write writes a report for a person: what is not well with what it means and what to do.
func (r Report) Write(w io.Writer) {
	fmt.Fprintln(w, r.State)
	for _, f := range r.Findings {
		fmt.Fprintf(w, "%-8s%s: %s\n", f.State, f.Check, f.Found)
		if f.Means != "" {
			fmt.Fprintf(w, "        %s\n", f.Means)
		}
		if f.Next != "" {
			fmt.Fprintf(w, "        next: %s\n", f.Next)
		}
	}
}

// Board has the checks of a running server. What they find is kept for a while, so that who asks often costs nothing.
type Board struct {
	// Fresh is how long findings are good.
	Fresh time.Duration
	// Now is the clock.
	Now    func() time.Time
	Checks []Check

	mu     sync.Mutex
	at     time.Time
	report Report
}

// Report looks at all, or gives what was found a moment ago.
func (b *Board) Report(ctx context.Context) Report {
	b.mu.Lock()
	defer b.mu.Unlock()
	if now := b.Now(); b.at.IsZero() || now.Sub(b.at) >= b.Fresh || now.Before(b.at) {
		findings := make([]Finding, len(b.Checks))
		for i, look := range b.Checks {
			findings[i] = look(ctx)
		}
		b.at, b.report = now, Sum(findings)
	}
	return b.report
}
