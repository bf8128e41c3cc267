package daemon

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/ledger"
	"gritward/internal/settings"
	"gritward/internal/store"
	"gritward/internal/store/bolt"
)

func verifyCommand() *cobra.Command {
	command := &cobra.Command{
		Use:   "verify",
		Short: "Look whether a store, or a backup, is whole and makes sense",
		Long: "Look at a store that no server has open, or at a backup (--data names either): its digest, where it is a backup; every\n" +
			"page of the file; every record, whether it can be read, lies where it should, and leads to what is there; and the audit\n" +
			"logs, as gritwardd audit verify does. Nothing is written. The exit code is 1 when something is wrong.\n\n" +
			"To verify a store while its server runs, take a backup, which needs no stop, and verify that.",
		Example: "  gritwardd verify --data club-2026-12-13.backup",
		Args:    exactly(0),
	}
	file := serverFlags(command)
	heads := command.Flags().StringArray("head", nil, "head of an audit log noted before, CLUB/NUMBER:SHA256 (repeat)")
	asJSON := command.Flags().Bool("json", false, "print the answer as JSON")
	command.RunE = func(command *cobra.Command, _ []string) error {
		noted, err := headsOf(*heads)
		if err != nil {
			return err
		}
		s, err := settings.LoadServer(settings.Source{File: *file, Flags: command.Flags()})
		if err != nil {
			return err
		}
		if err := fileOnly(s, "etcd looks at its own files; gritwardd audit looks at the audit logs"); err != nil {
			return err
		}
		told := newProgress(command.ErrOrStderr())
		found, err := examine(command.Context(), s.Data, s.LockTimeout, noted, told)
		told.end()
		if err != nil {
			return err
		}
		if *asJSON {
			err = json.NewEncoder(command.OutOrStdout()).Encode(found)
		} else {
			found.tell(command.OutOrStdout())
		}
		if err == nil && !found.Sound {
			err = found.next()
		}
		return err
	}
	return command
}

// examined is what was found of a store or a backup.
type examined struct {
	File string `json:"file"`
	// Backup: it has the seal of one, and then a time and a digest of the whole file.
	Backup  bool       `json:"backup"`
	TakenAt *time.Time `json:"taken_at,omitempty"`
	Sha256  string     `json:"sha256,omitempty"`
	Bytes   int64      `json:"bytes"`
	Records int64      `json:"records"`
	// Sound: nothing was found wrong.
	Sound    bool       `json:"sound"`
	Findings []foundIn  `json:"findings"`
	Logs     []auditLog `json:"audit_logs"`
	sealed   map[string]int
}

// foundIn is something wrong: with the file, or with a record of a club.
type foundIn struct {
	Club string `json:"club,omitempty"`
	ledger.Finding
}

// mostFound is how many findings are told of one club; what is wrong once is often wrong often.
const mostFound = 50

// examine looks at a store or a backup. The error says why it could not be looked at.
func examine(ctx context.Context, path string, wait time.Duration, noted []ledger.AuditHead, told *progress) (*examined, error) {
	e := &examined{File: path, Findings: []foundIn{}, Logs: []auditLog{}}
	whole, err := e.unseal(ctx, told)
	if err != nil || !whole {
		return e, err
	}
	opened, err := bolt.Open(bolt.Options{Path: path, LockTimeout: max(wait, time.Millisecond), Now: time.Now, ReadOnly: true,
		Suspect: true, Progress: told.of("looking at pages")})
	var damaged *bolt.PagesError
	var overwritten *store.DamagedError
	var locked *store.LockedError
	switch {
	case errors.As(err, &damaged):
		for _, what := range damaged.Problems {
			e.wrong("", ledger.Finding{What: what})
		}
		return e, nil
	case errors.As(err, &overwritten):
		e.wrong("", ledger.Finding{What: overwritten.What})
		return e, nil
	case errors.As(err, &locked):
		return nil, fmt.Errorf("%w; or take a backup with gritwardd backup, and verify that", err)
	case err != nil:
		return nil, err
	}
	defer func() { _ = opened.Close() }()
	if err := opened.Verify(ctx, told.of("looking at checksums")); errors.As(err, &overwritten) {
		e.wrong("", ledger.Finding{What: overwritten.What})
		return e, nil
	} else if err != nil {
		return nil, err
	}
	if err := e.records(ctx, ledger.New(opened, time.Now), noted, told); err != nil {
		e.wrong("", ledger.Finding{What: err.Error()})
	}
	e.Sound = len(e.Findings) == 0
	for _, log := range e.Logs {
		e.Sound = e.Sound && log.Broken == 0
	}
	return e, nil
}

// unseal holds a backup against its digest, and tells whether to look on.
func (e *examined) unseal(ctx context.Context, told *progress) (whole bool, err error) {
	file, err := os.Open(e.File)
	if err != nil {
		return false, err
	}
	defer file.Close()
	info, err := file.Stat()
	if err != nil {
		return false, err
	}
	if !info.Mode().IsRegular() {
		return false, fmt.Errorf("%s is not an ordinary file: point --data at a store or a backup", e.File)
	}
	e.Bytes = info.Size()
	seal, err := bolt.ReadSeal(file)
	if errors.Is(err, bolt.ErrNoBackup) {
		return true, nil // a store
	}
	if err != nil {
		return false, err
	}
	e.Backup, e.TakenAt = true, &seal.TakenAt
	_, sum, err := bolt.Unseal(ctx, file, io.Discard, told.of("reading"))
	if ctx.Err() != nil {
		return false, ctx.Err()
	}
	if err != nil {
		e.wrong("", ledger.Finding{What: err.Error()})
		return false, nil
	}
	e.Sha256 = fmt.Sprintf("%x", sum)
	return true, nil
}

// records looks at all records and audit logs.
func (e *examined) records(ctx context.Context, l *ledger.Ledger, noted []ledger.AuditHead, told *progress) error {
	clubs, err := l.Clubs(ctx)
	if err != nil {
		return err
	}
	report := told.of("looking at records")
	for _, club := range clubs {
		count := 0
		if err := l.View(ctx, club, func(tx *ledger.Tx) error {
			return tx.Verify(func(f ledger.Finding) {
				if count++; count <= mostFound {
					e.wrong(club, f)
				}
			}, func() { e.Records++; report(e.Records, 0) })
		}); err != nil {
			return err
		}
		if count > mostFound {
			e.wrong(club, ledger.Finding{What: fmt.Sprintf("and %d more", count-mostFound)})
		}
	}
	if e.Logs, err = verified(ctx, l, noted); err != nil {
		return err
	}
	e.sealed, err = sealedWith(ctx, l)
	return err
}

func (e *examined) wrong(club string, f ledger.Finding) {
	e.Findings = append(e.Findings, foundIn{club, f})
}

// tell says what was found.
func (e *examined) tell(out io.Writer) {
	kind := "a store"
	if e.Backup {
		kind = "a backup of " + e.TakenAt.Format(time.RFC3339)
	}
	fmt.Fprintf(out, "%s: %s, %s, %s\n", e.File, kind, size(e.Bytes), counted(int(e.Records), "record"))
	if e.Sha256 != "" {
		fmt.Fprintf(out, "SHA-256 %s\n", e.Sha256)
	}
	for _, f := range e.Findings {
		fmt.Fprintln(out, "WRONG:", f)
	}
	if len(e.Findings) == 0 {
		fmt.Fprintln(out, "Pages and records are sound.")
	}
	if len(e.Findings) == 0 || len(e.Logs) > 0 {
		tellEach(out, e.Logs)
	}
}

// String is the finding on one line.
func (f foundIn) String() string {
	text := f.What
	if f.Key != "" {
		text = f.Key + " " + text
	}
	if f.Club != "" {
		text = f.Club + ": " + text
	}
	return text
}

// next says what to do about what is wrong.
func (e *examined) next() error {
	if e.Backup {
		return fmt.Errorf("%s is not sound: keep it, and take another backup; verify each before you rely on it", e.File)
	}
	return fmt.Errorf("%s is not sound: keep it as it is, and do not serve from it; restore the newest backup that verifies with gritwardd restore", e.File)
}
