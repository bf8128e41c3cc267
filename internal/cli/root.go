package cli

import (
	"sync/atomic"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/release"
	"gritward/internal/settings"
	"gritward/internal/transport"

	pb "gritward/proto/gritward/v1"
)

// app is one run of the client.
type app struct {
	io           IO
	settingsFile string
	json         bool
	version      bool
	noColour     bool
	overwrite    bool // files that are there
	wait         time.Duration
	timeout      time.Duration
	started      bool // the command line was understood
	cmd          *cobra.Command
	args         []string
	server       string // where the call went, for messages
	// refused is why the server was not trusted; nil: it was, or TLS did not get so far.
	refused    atomic.Pointer[transport.Refusal]
	self       *pb.Member        // whose token it is
	known      people            // asked for once
	bikeTitles map[string]string // titles of bikes read, by resource name
}

const (
	defaultWait    = 2 * time.Second
	defaultTimeout = 30 * time.Second // for one call, its answer included
)

// Root is the command tree, for what writes about it.
func Root() *cobra.Command { return (&app{}).root() }

func (a *app) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "gritward",
		Short: "Winter group rides of a club: bikes, daylight, groups, rosters",
		Long: "Declare bikes, plan group rides against the daylight, place riders in groups, and hand out the roster with\n" +
			"its safety brief. Local road law, the official weather warning and a mechanic's advice come before\n" +
			"anything printed here; the leader on the road decides.",
		Example:       "  gritward accept CODE\n  gritward bike declare blue.yaml\n  gritward ride list",
		SilenceErrors: true, SilenceUsage: true,
		CompletionOptions: cobra.CompletionOptions{HiddenDefaultCmd: true},
	}
	root.Flags().BoolVarP(&a.version, "version", "v", false, "version of this program")
	root.SetFlagErrorFunc(flagWords)
	flags := root.PersistentFlags()
	settings.ClientFlags(flags)
	flags.StringVar(&a.settingsFile, "settings", "", "settings file (default "+settingsPlace()+")")
	flags.BoolVar(&a.json, "json", false, "print the answer as JSON; an error too, as one object on standard error")
	flags.BoolVar(&a.noColour, "no-colour", false, "no colour, even on a terminal")
	flags.DurationVar(&a.wait, "wait", defaultWait, "how long to wait for a server that does not answer yet")
	flags.DurationVar(&a.timeout, "timeout", defaultTimeout, "how long one call may take")
	root.AddCommand(a.accept(), a.whoami(), a.bike(), a.care(), a.policy(), a.ride(), a.member(), a.contacts(), a.incident(), a.season(), a.export(), a.audit(), a.route(), a.sun(), a.outlook(), a.pace())
	a.asGroup(root)
	return root
}

func settingsPlace() string {
	if path := settings.ClientFile(); path != "" {
		return path
	}
	return "none: set HOME"
}

// asGroup makes a command that only holds others: alone it prints its help, with an unknown word it says which is near.
func (a *app) asGroup(group *cobra.Command) *cobra.Command {
	group.SuggestionsMinimumDistance = 2
	group.RunE = func(cmd *cobra.Command, args []string) error {
		switch {
		case a.version:
			return a.answerJSON(struct {
				Version string `json:"version"`
			}{release.Version()}, func(p *page) { p.line("gritward %s", release.Version()) })
		case len(args) == 0 && a.json:
			return a.answerJSON(contentsOf(cmd), nil)
		case len(args) == 0:
			return cmd.Help()
		}
		near := ""
		if words := cmd.SuggestionsFor(args[0]); len(words) > 0 {
			near = "; did you mean " + words[0] + "?"
		}
		return usagef("%s has no command %q%s", cmd.CommandPath(), args[0], near)
	}
	group.Args = cobra.ArbitraryArgs
	return group
}

// contents are the commands that a command holds, for JSON.
type contents struct {
	Command  string     `json:"command"`
	Short    string     `json:"short"`
	Commands []contents `json:"commands,omitempty"`
}

func contentsOf(cmd *cobra.Command) contents {
	c := contents{Command: cmd.CommandPath(), Short: cmd.Short}
	for _, sub := range cmd.Commands() {
		if sub.IsAvailableCommand() {
			c.Commands = append(c.Commands, contentsOf(sub))
		}
	}
	return c
}

// offline makes a command that needs no server.
func (a *app) offline(cmd *cobra.Command, run func(args []string) error) *cobra.Command {
	cmd.Args = inWords(cmd.Args)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if err := missingFlags(cmd); err != nil {
			return err
		}
		a.started, a.cmd, a.args = true, cmd, args
		return run(args)
	}
	return cmd
}

// online makes a command that talks to the server as the device's member.
func (a *app) online(cmd *cobra.Command, run func(s *session, args []string) error) *cobra.Command {
	return a.offline(cmd, func(args []string) error {
		s, err := a.open(a.cmd.Context())
		if err != nil {
			return err
		}
		defer s.close()
		err = run(s, args)
		s.hear(err)
		s.tellOverdue(err)
		s.tellUnreported(err)
		return err
	})
}
