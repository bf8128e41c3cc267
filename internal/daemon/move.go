package daemon

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/settings"
	"gritward/internal/store"
	"gritward/internal/store/bolt"
	"gritward/internal/wholefile"
)

func moveCommand() *cobra.Command {
	command := &cobra.Command{
		Use:   "move to-etcd|to-file",
		Short: "Move the store from its file into etcd, or back",
		Long: "Copies every record of every club from the store file (--data) into etcd (--etcd-endpoints), or back, and holds the two against\n" +
			"each other by a digest over all of them. The place that it goes to must be empty. No server may run meanwhile. What it\n" +
			"was copied from stays as it is: delete it when the servers run well with the other, since it holds personal data too.",
		Example: "  gritwardd move to-etcd --data club.db --etcd-endpoints 10.0.0.1:2379,10.0.0.2:2379,10.0.0.3:2379\n" +
			"  gritwardd move to-file --data club.db --etcd-endpoints 10.0.0.1:2379,10.0.0.2:2379,10.0.0.3:2379",
		Args: exactly(1),
	}
	file := serverFlags(command)
	asJSON := command.Flags().Bool("json", false, "print the answer as JSON")
	command.RunE = func(command *cobra.Command, args []string) error {
		s, err := settings.LoadServer(settings.Source{File: *file, Flags: command.Flags()})
		if err != nil {
			return err
		}
		move := map[string]func(context.Context, settings.Server, *progress) (*moved, error){"to-etcd": toEtcd, "to-file": toFile}[args[0]]
		switch {
		case move == nil:
			return usageError{fmt.Errorf("%q is not a place to move to: say to-etcd or to-file", args[0])}
		case !s.Etcd.Used():
			return usageError{errors.New("which etcd? Give etcd_endpoints in the settings, or --etcd-endpoints")}
		}
		told := newProgress(command.ErrOrStderr())
		done, err := move(command.Context(), s, told)
		told.end()
		if err != nil {
			return err
		}
		if *asJSON {
			return json.NewEncoder(command.OutOrStdout()).Encode(done)
		}
		fmt.Fprintf(command.OutOrStdout(), "Moved %s of %s from %s to %s.\nSHA-256 of all of them: %s there, %s here before.\n",
			counted(done.Keys, "record"), counted(done.Clubs, "club"), done.From, done.To, done.Sha256To, done.Sha256From)
		return nil
	}
	return command
}

// moved is a store that was moved. The digests are equal.
type moved struct {
	From       string `json:"from"`
	To         string `json:"to"`
	Clubs      int    `json:"clubs"`
	Keys       int    `json:"records"`
	Sha256From string `json:"sha256_from"`
	Sha256To   string `json:"sha256_to"`
}

// toEtcd moves the store from its file into etcd. Until it is there whole, no server opens it.
func toEtcd(ctx context.Context, s settings.Server, told *progress) (*moved, error) {
	from, err := bolt.Open(bolt.Options{Path: s.Data, LockTimeout: max(s.LockTimeout, time.Millisecond), Now: time.Now, ReadOnly: true})
	if err != nil {
		return nil, err
	}
	defer func() { _ = from.Close() }()
	to, err := openEtcd(ctx, s.Etcd, store.Observer{}, true)
	if err != nil {
		return nil, err
	}
	defer func() { _ = to.Close() }()
	if err := to.BeginMove(ctx); err != nil {
		return nil, err
	}
	done, err := copied(ctx, from, to, told)
	if err != nil {
		return nil, fmt.Errorf("%w\nWhat was copied is not used: run gritwardd move to-etcd again", err)
	}
	done.From, done.To = s.Data, to.Where()
	return done, to.EndMove(ctx)
}

// toFile moves the store from etcd into a file that is not there.
func toFile(ctx context.Context, s settings.Server, told *progress) (done *moved, err error) {
	if _, err := os.Lstat(s.Data); !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s is there already, and nothing was moved: name another file with --data", s.Data)
	}
	if _, err := os.Lstat(bolt.JournalOf(s.Data)); !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s is there, of a store that is not, and nothing was moved: it may have that store's last changes in it. Name another file with --data, or move the journal away",
			bolt.JournalOf(s.Data))
	}
	from, err := openEtcd(ctx, s.Etcd, store.Observer{}, false)
	if err != nil {
		return nil, err
	}
	defer func() { _ = from.Close() }()
	if err := from.Idle(ctx); err != nil {
		return nil, err
	}
	half := s.Data + ".moving"
	for _, left := range []string{half, bolt.JournalOf(half)} { // of a move that was broken off
		if err := os.Remove(left); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, err
		}
	}
	defer func() { _ = errors.Join(os.Remove(half), os.Remove(bolt.JournalOf(half))) }()
	to, err := bolt.Open(bolt.Options{Path: half, Now: time.Now})
	if err != nil {
		return nil, err
	}
	if done, err = copied(ctx, from, to, told); err != nil {
		return nil, errors.Join(err, to.Close())
	}
	if err := to.Close(); err != nil {
		return nil, err
	}
	done.From, done.To = from.Where(), s.Data
	return done, wholefile.New(half, s.Data)
}

// copied copies one store into another, and holds the two against each other.
func copied(ctx context.Context, from, to store.Store, told *progress) (*moved, error) {
	done := &moved{}
	clubs, err := from.Clubs(ctx)
	if err != nil {
		return nil, err
	}
	done.Clubs = len(clubs)
	if done.Sha256From, done.Keys, err = store.Digest(ctx, from); err != nil {
		return nil, err
	}
	report := told.of("moving records")
	if _, err = store.Copy(ctx, from, to, func(keys int) { report(int64(keys), int64(done.Keys)) }); err != nil {
		return nil, err
	}
	if done.Sha256To, _, err = store.Digest(ctx, to); err != nil {
		return nil, err
	}
	if done.Sha256From != done.Sha256To {
		return nil, fmt.Errorf("what was copied is not the same: its digest is %s, and was %s; does a server run still?", done.Sha256To, done.Sha256From)
	}
	return done, nil
}
