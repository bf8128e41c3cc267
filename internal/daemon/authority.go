package daemon

import (
	"encoding/json"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/settings"
	"gritward/internal/transport"
)

func authorityCommand() *cobra.Command {
	command := &cobra.Command{
		Use:   "authority",
		Short: "Look at the server's own certificate authority, and change it without losing clients",
		Long: "The server's own certificate authority signs the server's certificates, and clients know it by its pin.\n" +
			"To change it: prepare the next one; let every client call once or more, which tells it the next pin; and\n" +
			"switch after seven days or later. All of this may be done while the server runs. If somebody else may have\n" +
			"the key, do not wait: prepare, switch --at-once, and invite anew whoever is shut out.",
		Example: "  gritwardd authority show\n  gritwardd authority prepare\n  gritwardd authority switch",
		Args:    exactly(0),
		RunE:    func(command *cobra.Command, _ []string) error { return command.Help() },
	}
	var atOnce bool
	switching := onAuthority("switch", "Put the next authority in place of the one in use",
		func(authority *transport.Authority) (string, error) { return switchAuthority(authority, atOnce) })
	switching.Flags().BoolVar(&atOnce, "at-once", false, "do not wait for seven days: devices that have not called are shut out")
	command.AddCommand(
		onAuthority("show", "Show the pins of the authority in use and of the next one", showAuthority),
		onAuthority("prepare", "Make the next authority, and have clients told of it", prepareAuthority), switching)
	return command
}

// onAuthority makes a command that works on the authority of the server that the settings describe.
func onAuthority(use, short string, do func(*transport.Authority) (string, error)) *cobra.Command {
	command := &cobra.Command{Use: use, Short: short, Example: "  gritwardd authority " + use + " --data club.db", Args: exactly(0)}
	file := serverFlags(command)
	asJSON := command.Flags().Bool("json", false, "print the answer as JSON")
	command.RunE = func(command *cobra.Command, _ []string) error {
		s, err := settings.LoadServer(settings.Source{File: *file, Flags: command.Flags()})
		if err != nil {
			return err
		}
		authority, err := transport.OpenAuthority(s.TLSFolder(), time.Now)
		if err != nil {
			return err
		}
		said, err := do(authority)
		if err != nil {
			return err
		}
		return tellAuthority(command.OutOrStdout(), authority, said, *asJSON)
	}
	return command
}

// tellAuthority prints the authority as it is now, and then what was said.
func tellAuthority(out io.Writer, authority *transport.Authority, said string, asJSON bool) error {
	current, next, err := authority.Show()
	if err != nil {
		return err
	}
	if asJSON {
		return json.NewEncoder(out).Encode(struct {
			Current transport.Told  `json:"current"`
			Next    *transport.Told `json:"next,omitempty"`
		}{current, next})
	}
	fmt.Fprintf(out, "in use  %s, good %s\n", current.Pin, current.Validity)
	if next != nil {
		fmt.Fprintf(out, "next    %s, good %s, prepared %s\n", next.Pin, next.Validity, next.Prepared.UTC().Format("2006-01-02 15:04 UTC"))
	}
	fmt.Fprint(out, said)
	return nil
}

func showAuthority(*transport.Authority) (string, error) { return "", nil }

func prepareAuthority(authority *transport.Authority) (string, error) {
	made, err := authority.Prepare()
	if err != nil {
		return "", err
	}
	if !made {
		return "\nIt was prepared already, and stays.\n", nil
	}
	return "\nClients hear of the next one whenever they call, and invites made from now on have both pins. When everybody has\n" +
		"used gritward, in seven days or later, run gritwardd authority switch. Invites made before now end with it.\n", nil
}

func switchAuthority(authority *transport.Authority, atOnce bool) (string, error) {
	if err := authority.Switch(atOnce); err != nil {
		return "", err
	}
	return "\nSwitched: a server that runs shows it from the next connection on. A device that has not called since the authority was\n" +
		"prepared does not trust the server now; a secretary lets it in anew: gritward member invite --device-for MEMBER.\n", nil
}
