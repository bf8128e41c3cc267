package cli

import (
	"os"
	"time"

	"golang.org/x/term"
)

// FromProcess is the world of this process: its standard streams, its clock, and whether a person sits there. NO_COLOR
// (no-color.org) and TERM=dumb keep colour out.
func FromProcess() IO {
	isTerminal := func(file *os.File) bool { return term.IsTerminal(int(file.Fd())) }
	world := IO{
		In: os.Stdin, Out: os.Stdout, Err: os.Stderr, Now: time.Now,
		OutTerminal: isTerminal(os.Stdout), ErrTerminal: isTerminal(os.Stderr),
		NoColour: os.Getenv("NO_COLOR") != "" || os.Getenv("TERM") == "dumb",
	}
	if width, _, err := term.GetSize(int(os.Stdout.Fd())); err == nil {
		world.Width = width
	}
	return world
}
