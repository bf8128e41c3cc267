package route

import "fmt"

// Error says where a file or line is wrong, what is wrong, and what to do.
type Error struct {
	// Line and Column in the file, from 1; the column counts bytes of the
	// text as UTF-8. 0 if the fault has no place in a file.
	Line, Column int
	What         string // what is wrong
	Next         string // what to do next
}

// Error joins all of it: "5:1: the latitude ...; correct ...".
func (e *Error) Error() string {
	if e.Line == 0 {
		return e.What + "; " + e.Next
	}
	return fmt.Sprintf("%d:%d: %s; %s", e.Line, e.Column, e.What, e.Next)
}

// exportAgain is the advice that mends most files.
const exportAgain = "export the route again as GPX 1.1"
