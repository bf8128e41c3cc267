package daemon

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"runtime"
	"slices"

	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/seal"
	"gritward/internal/wholefile"
)

// openKeys reads the key file and holds it against the store: it must have every key that a record there is sealed with.
// When there is no key file and no sealed record, a key is made, which told reports.
func openKeys(ctx context.Context, l *ledger.Ledger, path string, told io.Writer) (*seal.Keys, error) {
	with, err := sealedWith(ctx, l)
	if err != nil {
		return nil, err
	}
	keys, err := readKeys(path)
	switch {
	case errors.Is(err, fs.ErrNotExist) && len(with) > 0:
		return nil, fmt.Errorf("key_file: there is no %s, and the store has emergency contacts sealed with a key (%s): put the key file "+
			"back from where you keep its copy, or name it with --key-file; without it nobody can read them, and nothing was changed", path, someKey(with))
	case errors.Is(err, fs.ErrNotExist):
		return makeKeys(path, told)
	case err != nil:
		return nil, err
	}
	for id, count := range with {
		if !slices.Contains(keys.IDs(), id) {
			return nil, fmt.Errorf("key_file: %s is not the key file of this store: it has not the key %s, which seals %s of emergency contacts there; "+
				"put back the one that belongs to it, or name it with --key-file; nothing was changed", path, id, counted(count, "record"))
		}
	}
	return keys, nil
}

// sealedWith counts the sealed records of all clubs by the id of their key.
func sealedWith(ctx context.Context, l *ledger.Ledger) (map[string]int, error) {
	clubs, err := l.Clubs(ctx)
	all := map[string]int{}
	for _, club := range clubs {
		err = errors.Join(err, l.View(ctx, club, func(tx *ledger.Tx) error {
			with, err := tx.SealedWith()
			for id, count := range with {
				all[id] += count
			}
			return err
		}))
	}
	return all, err
}

// someKey names one of the keys, always the same.
func someKey(with map[string]int) string {
	ids := make([]string, 0, len(with))
	for id := range with {
		ids = append(ids, id)
	}
	return slices.Min(ids)
}

// readKeys reads a key file, which nobody but its owner may be able to read.
func readKeys(path string) (*seal.Keys, error) {
	if path == "" {
		return nil, errors.New("key_file: there is no folder for the keys of emergency contacts: set HOME, or name the file with --key-file")
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("key_file: %w", err)
	}
	defer file.Close()
	info, err := file.Stat()
	if err != nil {
		return nil, fmt.Errorf("key_file: %w", err)
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("key_file: %s is not an ordinary file: name one with --key-file", path)
	}
	if mode := info.Mode().Perm(); runtime.GOOS != "windows" && mode&0o077 != 0 {
		return nil, fmt.Errorf("key_file: %s can be read or written by others (mode %04o): chmod 600 %s, and consider whether somebody has read it: "+
			"gritwardd rekey makes a new key", path, mode, path)
	}
	text, err := io.ReadAll(io.LimitReader(file, seal.MaxText+1))
	if err != nil {
		return nil, fmt.Errorf("key_file: %w", err)
	}
	keys, err := seal.Parse(text)
	if err != nil {
		return nil, fmt.Errorf("key_file: %s: %w; put it back from where you keep its copy; nothing was changed", path, err)
	}
	return keys, nil
}

// makeKeys makes a key file with a new key.
func makeKeys(path string, told io.Writer) (*seal.Keys, error) {
	keys, err := seal.New()
	if err != nil {
		return nil, err
	}
	if err := wholefile.Create(path, keys.Text()); err != nil {
		return nil, fmt.Errorf("key_file: %w", err)
	}
	fmt.Fprintf(told, "Made the key that emergency contacts are sealed with: %s. Keep a copy of it, apart from backups of the store.\n", path)
	return keys, nil
}

// reseal seals every record of every club with the newest of the keys, one transaction for each club.
func reseal(ctx context.Context, l *ledger.Ledger, keys *seal.Keys) (done []string, err error) {
	clubs, err := l.Clubs(ctx)
	for _, club := range clubs {
		count := 0
		if err == nil {
			err = l.Update(ctx, club, func(tx *ledger.Tx) (err error) {
				if count, err = tx.Reseal(keys); err != nil || count == 0 {
					return err
				}
				return tx.Append(resealed(names.Club(club), count))
			})
		}
		if err == nil {
			done = append(done, fmt.Sprintf("%s: %s", club, counted(count, "record")))
		}
	}
	return done, err
}
