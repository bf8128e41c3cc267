// Package daemon has the server's own command line: serve, found, invite, authority, audit, retention, rekey, backup, restore, verify, health, doctor, demo.
package daemon

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"gritward/internal/release"
	"gritward/internal/settings"
	"gritward/internal/trail"
)

// Main runs the command line and gives the exit code: 0 done, 1 failed, 2 wrongly called.
func Main(ctx context.Context, args []string, out, errOut io.Writer) int {
	root := bare()
	root.SetOut(out)
	root.SetErr(errOut)
	root.SetArgs(args)
	root.AddCommand(asked(args)...)
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usageError{err} })
	err := root.ExecuteContext(ctx)
	var usage usageError
	switch {
	case err == nil:
		return 0
	case errors.As(err, &usage):
		fmt.Fprintf(errOut, "gritwardd: %v\nSee gritwardd --help.\n", err)
		return 2
	default:
		fmt.Fprintf(errOut, "gritwardd: %v\n", err)
		return 1
	}
}

// Root is the whole command tree, for what writes about it.
func Root() *cobra.Command {
	root := bare()
	root.AddCommand(asked(nil)...)
	return root
}

func bare() *cobra.Command {
	return &cobra.Command{
		Use:           "gritwardd",
		Short:         "The server for a road club's winter group rides",
		SilenceErrors: true,
		SilenceUsage:  true,
		Version:       release.Version(),
	}
}

// commands make the commands of the server's command line.
var commands = []struct {
	name string
	made func() *cobra.Command
}{
	{"serve", serveCommand}, {"found", foundCommand}, {"invite", inviteCommand}, {"authority", authorityCommand}, {"audit", auditCommand},
	{"retention", retentionCommand}, {"rekey", rekeyCommand}, {"backup", backupCommand}, {"restore", restoreCommand}, {"move", moveCommand},
	{"verify", verifyCommand}, {"health", healthCommand}, {"doctor", doctorCommand}, {"demo", demoCommand},
}

// asked are the commands that a command line may mean: the one that it begins with, else all. Making them all with their
// flags takes longer than opening the store.
func asked(args []string) (made []*cobra.Command) {
	for _, command := range commands {
		if len(args) > 0 && args[0] == command.name {
			return []*cobra.Command{command.made()}
		}
	}
	for _, command := range commands {
		made = append(made, command.made())
	}
	return made
}

// usageError is a command wrongly called.
type usageError struct{ error }

// exactly is how many arguments a command takes, as a usage error.
func exactly(n int) cobra.PositionalArgs {
	return func(command *cobra.Command, args []string) error {
		if err := cobra.ExactArgs(n)(command, args); err != nil {
			return usageError{err}
		}
		return nil
	}
}

// serverFlags adds the flags of the server's settings, and the one that names their file.
func serverFlags(command *cobra.Command) *string {
	settings.ServerFlags(command.Flags())
	return command.Flags().String("settings", "", "settings file (default "+settings.ServerFile()+")")
}

// logger makes the log that the settings ask for.
func logger(w io.Writer, s settings.Server) *slog.Logger {
	var level slog.Level
	_ = level.UnmarshalText([]byte(s.LogLevel)) // the settings were checked
	options := &slog.HandlerOptions{Level: level}
	if s.LogFormat == "json" || s.LogFormat == "" && !isTerminal(w) {
		return slog.New(trail.Handler(slog.NewJSONHandler(w, options)))
	}
	return slog.New(trail.Handler(slog.NewTextHandler(w, options)))
}

// isTerminal tells whether a person reads what is written.
func isTerminal(w io.Writer) bool {
	file, ok := w.(*os.File)
	return ok && term.IsTerminal(int(file.Fd()))
}
