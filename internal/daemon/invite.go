package daemon

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"gritward/internal/fault"
	"gritward/internal/names"
	"gritward/internal/server"
	"gritward/internal/settings"
	"gritward/internal/transport"
	pb "gritward/proto/gritward/v1"
)

func inviteCommand() *cobra.Command {
	command := &cobra.Command{
		Use:   "invite CLUB",
		Short: "Invite a secretary to a club that is there, when none can sign in any more",
		Long: "Invite a secretary to a club that is there: the way back in when no secretary can sign in any more.\n" +
			"Who is a member already is let in on one more device, and is a secretary from then on; any other name becomes a new member.\n" +
			"Run it while no server uses the store.",
		Example: `  gritwardd invite marrowdale --data club.db --secretary "Imke Vard"`,
		Args:    exactly(1),
	}
	file := serverFlags(command)
	secretary := command.Flags().String("secretary", "", "name of the secretary, or the id of a member")
	asJSON := command.Flags().Bool("json", false, "print the answer as JSON")
	command.RunE = func(command *cobra.Command, args []string) error {
		if !names.ValidClub(args[0]) {
			return usageError{fmt.Errorf("%q cannot be a club's id", args[0])}
		}
		if err := named("--secretary", *secretary, 60); err != nil {
			return err
		}
		s, err := settings.LoadServer(settings.Source{File: *file, Flags: command.Flags()})
		if err != nil {
			return err
		}
		none := fmt.Errorf("there is no club %q in the store %s: say with --data, or --settings, which store it is in", args[0], where(s))
		if _, err := os.Stat(s.Data); !s.Etcd.Used() && errors.Is(err, os.ErrNotExist) {
			return none // opening would leave an empty store behind
		}
		l, shut, err := openLedger(command.Context(), s, command.ErrOrStderr())
		if err != nil {
			return err
		}
		defer shut()
		handed, err := handing(s)
		if err != nil {
			return err
		}
		code, known, err := server.Invite(command.Context(), l, args[0], *secretary)
		if fault.Is(err, pb.Reason_NOT_FOUND) {
			return none
		}
		if err != nil {
			return err
		}
		if *asJSON {
			return json.NewEncoder(command.OutOrStdout()).Encode(map[string]string{
				"club": names.Club(args[0]), "invite_code": code, "invite": handed(code), "store": s.Data, "member": known.GetName()})
		}
		then, keeps := *secretary+" becomes secretary with", ""
		if known != nil {
			then, keeps = known.DisplayName+", who is a member already, signs in as secretary with", "On a device that is signed in, add --replace. "
		}
		fmt.Fprintf(command.OutOrStdout(), "Start the server, then %s\n\n  gritward accept %s\n\n%sThe code works once, for 14 days.\n", then, transport.ForShell(handed(code)), keeps)
		return nil
	}
	return command
}
