package daemon

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/settings"
	"gritward/internal/store"
	"gritward/internal/store/bolt"
	"gritward/internal/wholefile"
)

func backupCommand() *cobra.Command {
	command := &cobra.Command{
		Use:   "backup FILE",
		Short: "Back up the store, also while the server runs",
		Long: "Write a backup of the store into FILE: the store as it is at one moment, with its length, time and SHA-256 at the end.\n" +
			"While a server has the store open the backup comes from that server, by the socket DATA.operator beside the store, which\n" +
			"only the server's own user may use; calls go on meanwhile. FILE is read back and checked before it gets its name: it is\n" +
			"there whole, or not at all.\n\n" +
			"It does not hold the key file of emergency contacts, the server's certificates (DATA.tls) and the list of the erased\n" +
			"(DATA.erased). Keep the key file and the list apart from backups: with its key, a backup can be read by whoever has both.",
		Example: "  gritwardd backup club-2026-12-13.backup --data club.db",
		Args:    exactly(1),
	}
	file := serverFlags(command)
	overwrite := command.Flags().Bool("overwrite", false, "write over FILE if it is there")
	asJSON := command.Flags().Bool("json", false, "print the answer as JSON")
	command.RunE = func(command *cobra.Command, args []string) error {
		s, err := settings.LoadServer(settings.Source{File: *file, Flags: command.Flags()})
		if err != nil {
			return err
		}
		if err := fileOnly(s, "take snapshots of etcd with etcdctl snapshot save"); err != nil {
			return err
		}
		done, err := backUp(command.Context(), s, args[0], *overwrite, newProgress(command.ErrOrStderr()))
		if err != nil {
			return err
		}
		if *asJSON {
			return json.NewEncoder(command.OutOrStdout()).Encode(done)
		}
		fmt.Fprintf(command.OutOrStdout(), "Backed up %s to %s: %s, as of %s.\nSHA-256 %s\n"+
			"Not in it: the key file of emergency contacts (%s). Keep a copy of that too, in another place.\n",
			s.Data, done.Backup, size(done.Bytes), done.TakenAt.Format(time.RFC3339), done.Sha256, s.KeyFile)
		return nil
	}
	return command
}

// backedUp is a backup that was taken.
type backedUp struct {
	Backup string `json:"backup"`
	// Bytes and Sha256 are of the whole file.
	Bytes   int64     `json:"bytes"`
	Sha256  string    `json:"sha256"`
	TakenAt time.Time `json:"taken_at"`
	Store   string    `json:"store"`
}

// backUp takes a backup, reads it back and puts it in place.
func backUp(ctx context.Context, s settings.Server, to string, overwrite bool, told *progress) (done backedUp, err error) {
	defer told.end()
	if err := mayWrite(s, to, overwrite); err != nil {
		return done, err
	}
	place := wholefile.New
	if overwrite {
		place = wholefile.Over
	}
	err = wholefile.Fill(to, func(file *os.File) error {
		if err := takeBackup(ctx, s, file, told); err != nil {
			return err
		}
		seal, whole, err := bolt.Unseal(ctx, file, io.Discard, told.of("reading it back"))
		if err != nil {
			return fmt.Errorf("what was written to %s is not what was read back: %w; see that the disk is healthy", to, err)
		}
		checked, err := bolt.Open(bolt.Options{Path: file.Name(), Now: time.Now, ReadOnly: true, AsIs: true, Suspect: true, Progress: told.of("checking it")})
		var damaged *bolt.PagesError
		if errors.As(err, &damaged) {
			return fmt.Errorf("the store %s is damaged, and was not backed up: %s; keep it and the backups that you have, and see gritwardd verify --help",
				s.Data, damaged.Problems[0])
		}
		if err != nil {
			return err
		}
		info, err := file.Stat()
		if err == nil {
			done = backedUp{Backup: to, Bytes: info.Size(), Sha256: fmt.Sprintf("%x", whole), TakenAt: seal.TakenAt, Store: s.Data}
		}
		return errors.Join(err, checked.Close())
	}, place)
	if errors.Is(err, fs.ErrExist) {
		return done, isThere(to)
	}
	return done, err
}

// mayWrite refuses what a backup must not be written over.
func mayWrite(s settings.Server, to string, overwrite bool) error {
	info, err := os.Stat(to)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return err
	}
	for path, what := range map[string]string{s.Data: "the store itself", s.KeyFile: "the key file of emergency contacts", s.Data + ".erased": "the list of the erased"} {
		if there, err := os.Stat(path); err == nil && os.SameFile(there, info) {
			return usageError{fmt.Errorf("%s is %s: name another file for the backup", to, what)}
		}
	}
	if !info.Mode().IsRegular() {
		return usageError{fmt.Errorf("%s is not an ordinary file: name one for the backup", to)}
	}
	if !overwrite {
		return isThere(to)
	}
	return nil
}

func isThere(path string) error {
	return fmt.Errorf("%s is there already: name another file, or give --overwrite to write over it", path)
}

// takeBackup has the server that has the store open write a backup, or writes one of a store that no server has open. A server that
// is just starting has the store, and no socket yet.
func takeBackup(ctx context.Context, s settings.Server, to *os.File, told *progress) error {
	report := told.of("backing up")
	err := askOperator(ctx, s.Data, to, report)
	if !errors.Is(err, errNoServer) {
		return err
	}
	opened, err := bolt.Open(bolt.Options{Path: s.Data, LockTimeout: max(s.LockTimeout, time.Millisecond), Now: time.Now, ReadOnly: true, AsIs: true})
	var locked *store.LockedError
	if errors.As(err, &locked) {
		if again := askOperator(ctx, s.Data, to, report); !errors.Is(again, errNoServer) {
			return again
		}
		return fmt.Errorf("%w; or see in that server's log why it has no operator's socket", err)
	}
	if err != nil {
		return err
	}
	way := &telling{to: to, progress: report}
	err = opened.Backup(ctx, way, func(total int64) { way.total = total })
	return errors.Join(err, opened.Close())
}

// size is so many bytes, for people.
func size(bytes int64) string {
	switch {
	case bytes >= 1<<30:
		return fmt.Sprintf("%.1f GiB", float64(bytes)/(1<<30))
	case bytes >= 1<<20:
		return fmt.Sprintf("%.1f MiB", float64(bytes)/(1<<20))
	}
	return fmt.Sprintf("%.1f KiB", float64(bytes)/(1<<10))
}
