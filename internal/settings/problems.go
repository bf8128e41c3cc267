package settings

import "strings"

// Problem is one thing wrong with the settings.
type Problem struct {
	// Where is the place: "client.yaml:3:1", "GRITWARD_LISTEN", "--listen" or "listen (default)".
	Where string
	// What is wrong, and what to do about it.
	What string
}

// Problems is the error of this package: all that is wrong, in the order found.
type Problems []Problem

// Error gives one line for each problem.
func (p Problems) Error() string {
	lines := make([]string, len(p))
	for i, problem := range p {
		lines[i] = problem.Where + ": " + problem.What
	}
	return strings.Join(lines, "\n")
}

// err is nil when nothing is wrong.
func (p Problems) err() error {
	if len(p) == 0 {
		return nil
	}
	return p
}
