package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"
)

// Exit codes of the client.
const (
	ExitOK     = 0 // done
	ExitFailed = 1 // refused or failed; standard error says why
	ExitUsage  = 2 // not understood; nothing was tried
)

// IO is what the client reads from, writes to, and knows of the world around it.
type IO struct {
	In       io.Reader
	Out, Err io.Writer
	// Now tells the time.
	Now func() time.Time
	// OutTerminal and ErrTerminal tell whether a person reads that end.
	OutTerminal, ErrTerminal bool
	// Width is how many columns Out has; 0: 80.
	Width int
	// NoColour keeps colour out even on a terminal (no-color.org).
	NoColour bool
}

// Main runs one command line, without the name of the program, and gives the exit code. It prints nothing but through
// world, and leaves the process alone.
func Main(ctx context.Context, args []string, world IO) int {
	a := &app{io: world}
	root := a.root()
	root.SetArgs(args)
	root.SetIn(world.In)
	root.SetOut(world.Out)
	root.SetErr(world.Err)
	cmd, err := root.ExecuteContextC(ctx)
	var usage *usageError
	var silent silentError
	switch {
	case err == nil:
		return ExitOK
	case errors.As(err, &silent):
		return ExitFailed
	case errors.As(err, &usage) || !a.started:
		fmt.Fprintf(world.Err, "gritward: %s\nsee: %s --help\n", clean(err.Error()), cmd.CommandPath())
		return ExitUsage
	default:
		fmt.Fprint(world.Err, a.explain(err))
		return ExitFailed
	}
}

// usageError is a command line that was not understood.
type usageError struct{ what string }

func (e *usageError) Error() string { return e.what }

func usagef(format string, args ...any) error { return &usageError{fmt.Sprintf(format, args...)} }

// silentError ends with ExitFailed after the command has said itself what is wrong.
type silentError struct{}

func (silentError) Error() string { return "failed" }
