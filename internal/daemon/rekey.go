package daemon

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"

	"github.com/spf13/cobra"

	"gritward/internal/settings"
	"gritward/internal/wholefile"
	pb "gritward/proto/gritward/v1"
)

func rekeyCommand() *cobra.Command {
	command := &cobra.Command{
		Use:   "rekey",
		Short: "Make a new key and seal all emergency contacts anew with it",
		Long: "Make a new key, seal all emergency contacts in the store anew with it, and take the old key out of the key\n" +
			"file. The new key is in the file before anything is sealed with it, and the old one stays there until nothing is\n" +
			"sealed with it any more: broken off at any time, run it again, and it goes on. Run it while no server uses the\n" +
			"store. Backups from before still need the old key file: keep its copy for as long as you keep them.",
		Example: "  gritwardd rekey --data club.db",
		Args:    exactly(0),
	}
	file := serverFlags(command)
	asJSON := command.Flags().Bool("json", false, "print the answer as JSON")
	command.RunE = func(command *cobra.Command, _ []string) error {
		s, err := settings.LoadServer(settings.Source{File: *file, Flags: command.Flags()})
		if err != nil {
			return err
		}
		return rekey(command, s, *asJSON)
	}
	return command
}

func rekey(command *cobra.Command, s settings.Server, asJSON bool) error {
	l, shut, err := openLedger(command.Context(), s, command.ErrOrStderr())
	if err != nil {
		return err
	}
	defer shut()
	if _, err := readKeys(s.KeyFile); errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%w: there is no key yet, or --key-file names another place; gritwardd serve makes the first one", err)
	}
	keys, err := openKeys(command.Context(), l, s.KeyFile, command.ErrOrStderr())
	if err != nil {
		return err
	}
	going := len(keys.IDs()) > 1 // a change of key that was broken off
	if !going {
		if keys, err = keys.Turned(); err != nil {
			return err
		}
		if err := wholefile.Write(s.KeyFile, keys.Text()); err != nil {
			return err
		}
	}
	done, err := reseal(command.Context(), l, keys)
	if err != nil {
		return fmt.Errorf("%w; the key file has the old key and the new one, and nothing is lost: put that right and run it again", err)
	}
	keys = keys.Newest()
	if err := wholefile.Write(s.KeyFile, keys.Text()); err != nil {
		return err
	}
	if asJSON {
		return json.NewEncoder(command.OutOrStdout()).Encode(map[string]any{"key": keys.ID(), "sealed_anew": done, "went_on": going})
	}
	out := command.OutOrStdout()
	if going {
		fmt.Fprintln(out, "Went on with a change of key that was broken off.")
	}
	for _, line := range done {
		fmt.Fprintln(out, line+" sealed anew")
	}
	fmt.Fprintf(out, "The key %s is in use. Keep a copy of %s, apart from backups of the store.\n", keys.ID(), s.KeyFile)
	return nil
}

// resealed is the entry about a change of key.
func resealed(club string, count int) *pb.AuditEntry {
	return &pb.AuditEntry{Actor: "server", Method: "gritwardd rekey", Resource: club, What: fmt.Sprintf("sealed %s anew with another key", counted(count, "record"))}
}
