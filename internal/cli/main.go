package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
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
		a.json = a.json || asksJSON(args)
		a.complain(fmt.Sprintf("gritward: %s\nsee: %s --help\n", clean(err.Error()), cmd.CommandPath()), err)
		return ExitUsage
	default:
		a.complain(a.explain(err), err)
		return ExitFailed
	}
}

// asksJSON tells whether a command line asks for JSON, where it could not be read to the end.
func asksJSON(args []string) bool {
	if end := slices.Index(args, "--"); end >= 0 {
		args = args[:end]
	}
	return slices.Contains(args, "--json") || slices.Contains(args, "--json=true")
}

// complaint is an error as JSON: one object on standard error.
type complaint struct {
	Error string `json:"error"`
	// Reason is the server's, in the words of the protocol.
	Reason  string   `json:"reason,omitempty"`
	Details []string `json:"details,omitempty"`
	Next    string   `json:"next,omitempty"`
	// RequestID is by which the server's log says more.
	RequestID string `json:"request_id,omitempty"`
}

// complain writes what went wrong to standard error, as text or as JSON. text is as explain gives it.
func (a *app) complain(text string, err error) {
	if !a.json {
		fmt.Fprint(a.io.Err, text)
		return
	}
	lines := strings.Split(strings.TrimSpace(text), "\n")
	c := complaint{Error: strings.TrimPrefix(lines[0], "gritward: ")}
	for _, line := range lines[1:] {
		line = strings.TrimSpace(line)
		switch next, isNext := strings.CutPrefix(line, "next: "); {
		case isNext:
			c.Next = next
		case strings.HasPrefix(line, "request: "):
		case strings.HasPrefix(line, "see: "):
			c.Next = line
		default:
			c.Details = append(c.Details, line)
		}
	}
	if made, ok := grpcStatus(err); ok && reasonOf(made) != pb.Reason_REASON_UNSPECIFIED {
		c.Reason = reasonOf(made).String()
	}
	if err != nil {
		c.RequestID = fault.Read(err).RequestID
	}
	laid, jsonErr := json.MarshalIndent(c, "", "  ")
	if jsonErr != nil { // strings alone: never
		laid = []byte(text)
	}
	fmt.Fprintf(a.io.Err, "%s\n", laid)
}

// usageError is a command line that was not understood.
type usageError struct{ what string }

func (e *usageError) Error() string { return e.what }

func usagef(format string, args ...any) error { return &usageError{fmt.Sprintf(format, args...)} }

// silentError ends with ExitFailed after the command has said itself what is wrong.
type silentError struct{}

func (silentError) Error() string { return "failed" }
