package daemon

import (
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/settings"
	"gritward/internal/store/bolt"
	"gritward/internal/wholefile"
)

func restoreCommand() *cobra.Command {
	command := &cobra.Command{
		Use:   "restore BACKUP",
		Short: "Put a backup in the place of the store",
		Long: "Make the store (--data) anew from a backup. Its digest is held against its bytes, and all that gritwardd verify looks at\n" +
			"is looked at, before anything is put in place: the store is there whole, or as it was. One that is there is replaced only\n" +
			"with --overwrite, and never while a server has it open.\n\n" +
			"What happened since the backup is lost: people who signed up, and also devices shut out and members suspended since, who\n" +
			"are let in again. Who was erased since is erased again when the server starts, as long as DATA.erased lies beside the\n" +
			"store. Emergency contacts need the key file of that time.",
		Example: "  gritwardd restore club-2026-12-13.backup --data club.db",
		Args:    exactly(1),
	}
	file := serverFlags(command)
	overwrite := command.Flags().Bool("overwrite", false, "replace the store if it is there")
	despite := command.Flags().Bool("despite-findings", false, "restore also where records or audit logs are not sound (never where digest or pages are wrong)")
	sum := command.Flags().String("sha256", "", "digest of the whole backup, as gritwardd backup printed it, to hold it against")
	asJSON := command.Flags().Bool("json", false, "print the answer as JSON")
	command.RunE = func(command *cobra.Command, args []string) error {
		if noted, err := hex.DecodeString(*sum); err != nil || len(noted) != 0 && len(noted) != 32 {
			return usageError{fmt.Errorf("--sha256 %.80q is not a digest: give the 64 digits that gritwardd backup printed", *sum)}
		}
		s, err := settings.LoadServer(settings.Source{File: *file, Flags: command.Flags()})
		if err != nil {
			return err
		}
		if err := fileOnly(s, "restore a snapshot with etcdctl snapshot restore, or restore a backup into a file and run gritwardd move to-etcd"); err != nil {
			return err
		}
		r := &restoring{Settings: s, From: args[0], overwrite: *overwrite, despite: *despite, sum: strings.ToLower(*sum)}
		told := newProgress(command.ErrOrStderr())
		err = r.run(command.Context(), told)
		told.end()
		if err != nil {
			return err
		}
		if *asJSON {
			return json.NewEncoder(command.OutOrStdout()).Encode(map[string]any{"store": s.Data, "backup": r.From, "taken_at": r.seal.TakenAt,
				"records": r.found.Records, "findings": r.found.Findings, "contacts_readable": r.keys == nil})
		}
		r.tell(command.OutOrStdout())
		return nil
	}
	return command
}

// restoring is one restore.
type restoring struct {
	Settings           settings.Server
	From               string
	overwrite, despite bool
	sum                string

	seal  bolt.Seal
	found *examined
	// keys says why emergency contacts cannot be read; nil: they can, or there are none.
	keys error
}

func (r *restoring) run(ctx context.Context, told *progress) error {
	data := r.Settings.Data
	place := wholefile.New
	if _, err := os.Lstat(data); err == nil {
		if !r.overwrite {
			return fmt.Errorf("%s is there already: name another file with --data, or give --overwrite to replace it; what is in it is lost then, so back it up first", data)
		}
		place = func(temporary, path string) error {
			return bolt.Replace(bolt.Options{Path: path, LockTimeout: max(r.Settings.LockTimeout, time.Millisecond)}, temporary)
		}
	} else if _, err := os.Lstat(bolt.JournalOf(data)); err == nil {
		return fmt.Errorf("%s is there, of a store that is not: it may have the last changes in it. Put that store back, or move the journal away; nothing was changed",
			bolt.JournalOf(data))
	}
	from, err := os.Open(r.From)
	if err != nil {
		return err
	}
	defer from.Close()
	if there, err := os.Stat(data); err == nil {
		if here, err := from.Stat(); err == nil && os.SameFile(here, there) {
			return usageError{fmt.Errorf("%s is the store itself: name a backup", r.From)}
		}
	}
	err = wholefile.Fill(data, func(to *os.File) error { return r.fill(ctx, from, to, told) }, place)
	if errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("%s came to be there meanwhile, and was left alone: is a server starting?", data)
	}
	return err
}

// fill writes the store and looks at it.
func (r *restoring) fill(ctx context.Context, from, to *os.File, told *progress) error {
	seal, whole, err := bolt.Unseal(ctx, from, to, told.of("restoring"))
	switch {
	case errors.Is(err, bolt.ErrNoBackup):
		return fmt.Errorf("%s is not a backup: %w. It may be cut short; a copy of a store's file, made while no server ran, is verified with "+
			"gritwardd verify and put in place by hand; nothing was changed", r.From, err)
	case err != nil:
		return fmt.Errorf("%s cannot be restored: %w; nothing was changed: take another backup", r.From, err)
	}
	if got := fmt.Sprintf("%x", whole); r.sum != "" && got != r.sum {
		return fmt.Errorf("%s is not the backup that was noted: its SHA-256 is %s; nothing was changed", r.From, got)
	}
	r.seal = seal
	if r.found, err = examine(ctx, to.Name(), time.Second, nil, told); err != nil {
		return fmt.Errorf("%s cannot be restored: %w; nothing was changed", r.From, err)
	}
	if !r.found.Sound && (!r.despite || r.found.Records == 0) {
		first := "an audit log is broken"
		if len(r.found.Findings) > 0 {
			first = r.found.Findings[0].String()
		}
		return fmt.Errorf("%s is not sound (%s); nothing was changed: take another backup, or see all with gritwardd verify --data %s; "+
			"--despite-findings restores it as it is", r.From, first, r.From)
	}
	if len(r.found.sealed) > 0 {
		r.keys = r.haveKeys()
	}
	return nil
}

// haveKeys looks whether the key file has what the store's contacts are sealed with.
func (r *restoring) haveKeys() error {
	keys, err := readKeys(r.Settings.KeyFile)
	if err != nil {
		return err
	}
	for id := range r.found.sealed {
		if !slices.Contains(keys.IDs(), id) {
			return fmt.Errorf("key_file: %s has not the key %s", r.Settings.KeyFile, id)
		}
	}
	return nil
}

func (r *restoring) tell(out io.Writer) {
	fmt.Fprintf(out, "Restored %s from %s, as of %s: %s, verified.\n", r.Settings.Data, r.From, r.seal.TakenAt.Format(time.RFC3339), counted(int(r.found.Records), "record"))
	for _, f := range r.found.Findings {
		fmt.Fprintln(out, "WRONG:", f)
	}
	tellEach(out, r.found.Logs)
	fmt.Fprintln(out, "What happened since is not in it. Devices shut out and members suspended since then are let in again: look at both.")
	if _, err := os.Stat(r.Settings.Data + ".erased"); err == nil {
		fmt.Fprintf(out, "Whom %s.erased lists is erased again when the server starts.\n", r.Settings.Data)
	} else {
		fmt.Fprintf(out, "There is no list of the erased (%s.erased): whoever was erased since then is back. Put the list back before the server starts, if there was one.\n", r.Settings.Data)
	}
	switch {
	case r.keys != nil:
		fmt.Fprintf(out, "Emergency contacts cannot be read yet: %v. Put the key file of that time back from where you keep its copy.\n", r.keys)
	case len(r.found.sealed) > 0:
		fmt.Fprintf(out, "The key file %s opens its emergency contacts.\n", r.Settings.KeyFile)
	}
}
