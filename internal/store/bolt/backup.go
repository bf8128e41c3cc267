package bolt

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"sync"
	"time"

	"go.etcd.io/bbolt"
	berrors "go.etcd.io/bbolt/errors"
)

// A backup is the file of a store as it was at one moment, with one line at its end that seals it:
//
//	gritward backup 1, 1048576 bytes, 2026-12-13T10:30:00Z, SHA-256 (64 hexadecimal digits)
//
// the length and digest of all that comes before the line, and when it was taken.
var sealPattern = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^\ngritward backup 1, (\d{1,18}) bytes, (\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ), SHA-256 ([0-9a-f]{64})\n$`)
})

// sealMost is how long that line can be, in bytes.
const sealMost = 200

// ErrNoBackup is in the error about a file that does not end as a backup does.
var ErrNoBackup = errors.New("it does not end as a backup of gritwardd does")

// Seal is what the last line of a backup says.
type Seal struct {
	// Bytes is the length of the store's file in it.
	Bytes int64
	// TakenAt is when the backup was taken.
	TakenAt time.Time
	// Sha256 is the digest of these bytes.
	Sha256 [sha256.Size]byte
}

func (s Seal) line() string {
	return fmt.Sprintf("\ngritward backup 1, %d bytes, %s, SHA-256 %x\n", s.Bytes, s.TakenAt.UTC().Format(time.RFC3339), s.Sha256)
}

// Backup writes a backup of the store as it is now, while others read and write on. It ends with an error when ctx does. begin
// is told the length of the backup before its first byte is written. A file that outgrows the address space reserved for it
// meanwhile has the writer wait until the backup is done: so to must not stall.
func (s *Store) Backup(ctx context.Context, to io.Writer, begin func(total int64)) error {
	if !s.readOnly {
		if err := s.alone(ctx, s.fileAll); err != nil {
			return err
		}
	}
	return s.read(func(tx *bbolt.Tx, _ *state, _ uint64) error {
		seal := Seal{Bytes: tx.Size(), TakenAt: s.now().Truncate(time.Second)}
		begin(seal.Bytes + int64(len(seal.line())))
		sum := sha256.New()
		way := &whileGood{ctx: ctx, to: io.MultiWriter(to, sum)}
		if _, err := tx.WriteTo(way); err != nil {
			if way.err != nil {
				err = way.err // bbolt keeps only its words
			}
			return fmt.Errorf("store: backing up %s: %w", s.path, err)
		}
		sum.Sum(seal.Sha256[:0])
		_, err := io.WriteString(to, seal.line())
		return err
	})
}

// whileGood writes until a context ends.
type whileGood struct {
	ctx context.Context
	to  io.Writer
	err error
}

// Write implements io.Writer.
func (w *whileGood) Write(p []byte) (n int, err error) {
	if err = w.ctx.Err(); err == nil {
		n, err = w.to.Write(p)
	}
	w.err = err
	return n, err
}

// ReadSeal reads the last line of a backup. The error has ErrNoBackup in it where there is none, or the file is shorter or longer
// than it says.
func ReadSeal(file *os.File) (Seal, error) {
	info, err := file.Stat()
	if err != nil {
		return Seal{}, err
	}
	end := make([]byte, min(sealMost, info.Size()))
	if _, err := file.ReadAt(end, info.Size()-int64(len(end))); err != nil {
		return Seal{}, err
	}
	return parseSeal(end, info.Size())
}

// parseSeal reads the end of a file of so many bytes.
func parseSeal(end []byte, size int64) (seal Seal, err error) {
	from := bytes.LastIndexByte(bytes.TrimSuffix(end, []byte("\n")), '\n')
	if !bytes.HasPrefix(end[max(from, 0):], []byte("\ngritward backup ")) {
		return seal, ErrNoBackup // as nearly always, without the pattern
	}
	found := sealPattern().FindSubmatch(end[max(from, 0):])
	if found == nil {
		return seal, ErrNoBackup
	}
	seal.Bytes, _ = strconv.ParseInt(string(found[1]), 10, 64) // at most 18 digits
	if seal.TakenAt, err = time.Parse(time.RFC3339, string(found[2])); err != nil {
		return Seal{}, fmt.Errorf("%w: %w", ErrNoBackup, err)
	}
	_, _ = hex.Decode(seal.Sha256[:], found[3]) // 64 digits
	if whole := seal.Bytes + int64(len(found[0])); whole != size {
		return Seal{}, fmt.Errorf("%w: it should have %d bytes and has %d", ErrNoBackup, whole, size)
	}
	return seal, nil
}

// Unseal reads a backup to its end, writes the store's file in it to another, and gives the digest of the whole backup, as
// sha256sum has it. The error says that the digest is not the one sealed, or where reading or writing failed; what was written
// by then is worth nothing. progress is told how many bytes were read; it may be nil.
func Unseal(ctx context.Context, file *os.File, to io.Writer, progress func(done, total int64)) (seal Seal, whole [sha256.Size]byte, err error) {
	if seal, err = ReadSeal(file); err != nil {
		return seal, whole, err
	}
	if _, err = file.Seek(0, io.SeekStart); err != nil {
		return seal, whole, err
	}
	sum, all := sha256.New(), sha256.New()
	told := &counted{to: io.MultiWriter(to, sum, all), total: seal.Bytes, progress: progress}
	if _, err = io.CopyN(&whileGood{ctx: ctx, to: told}, file, seal.Bytes); err != nil {
		return seal, whole, err
	}
	if !bytes.Equal(digest(sum), seal.Sha256[:]) {
		return seal, whole, errors.New("its bytes are not those that were sealed: it was changed or is damaged")
	}
	_, err = io.Copy(all, file)
	copy(whole[:], digest(all))
	return seal, whole, err
}

func digest(sum hash.Hash) []byte { return sum.Sum(nil) }

// counted tells how much was written.
type counted struct {
	to          io.Writer
	done, total int64
	progress    func(done, total int64)
}

// Write implements io.Writer.
func (c *counted) Write(p []byte) (int, error) {
	n, err := c.to.Write(p)
	if c.done += int64(n); c.progress != nil {
		c.progress(c.done, c.total)
	}
	return n, err
}

// Replace puts a file, which lies in the same folder, in the place of a store that no other process has open; the error is a
// *store.LockedError when one has. It does not matter whether the store is damaged.
func Replace(options Options, with string) error {
	path, err := filepath.EvalSymlinks(options.Path)
	if err != nil {
		return fmt.Errorf("store: %s cannot be replaced: %w", options.Path, err)
	}
	release, err := letGo(options)
	if err != nil {
		return err
	}
	defer release()
	if err := os.Rename(with, path); err != nil {
		return fmt.Errorf("store: %s could not be replaced: %w", options.Path, err)
	}
	if err := os.Remove(path + journalName); err != nil && !errors.Is(err, fs.ErrNotExist) { // it is of what was replaced
		return fmt.Errorf("store: the journal of what was replaced is still there: %w: delete it", err)
	}
	return syncFolder(filepath.Dir(path))
}

// letGo waits until no other process has a file open, and keeps it so until release is called. A file that bbolt cannot open has no
// process to wait for: bbolt locks first, and looks then.
func letGo(options Options) (release func(), err error) {
	for until := time.Now().Add(options.LockTimeout); ; {
		var file *os.File
		var db *bbolt.DB
		err := guarded(options, func() (err error) {
			db, err = bbolt.Open(options.Path, 0o600, &bbolt.Options{Timeout: max(time.Until(until), 1), ReadOnly: true,
				OpenFile: func(path string, flag int, mode os.FileMode) (_ *os.File, err error) {
					file, err = os.OpenFile(path, flag, mode)
					return file, err
				}})
			return err
		})
		switch {
		case errors.Is(err, berrors.ErrTimeout) || file == nil:
			return nil, explain(options, err)
		case err != nil:
			return func() {}, nil
		}
		if replaced, err := isReplaced(file, options.Path); err != nil || !replaced {
			return func() { _ = db.Close() }, err
		}
		_ = db.Close()
	}
}
