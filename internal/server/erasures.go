package server

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"slices"
	"strings"
	"sync"
	"time"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/wholefile"
	pb "gritward/proto/gritward/v1"
)

// Erasures sees to it that what was erased stays so. It keeps a list of the ids of erased members in a file outside the
// store; a store from before, put back from a backup, is held against it. And it has the store rewritten, so that nothing of
// what was erased is left in its file.
type Erasures struct {
	path   string
	desk   *desk
	ledger *ledger.Ledger
	log    *slog.Logger
	mu     sync.Mutex
}

// NewErasures keeps the list in a file; "": there is none, and backups are not held against it.
func NewErasures(path string, l *ledger.Ledger, log *slog.Logger) *Erasures {
	return &Erasures{path: path, desk: newDesk(l, nil), ledger: l, log: log}
}

// settle is Settle, with the failure in the log: it is tried again at the next start.
func (e *Erasures) settle(ctx context.Context) {
	if err := e.Settle(ctx); err != nil {
		e.log.Error("an erasure is not finished; it is gone on with at the next start", "error", err)
	}
}

// Settle erases again who stands on the list and is in the store, puts on the list who was erased and is not on it, and has
// the store rewritten where that is owed. Done again it does nothing.
func (e *Erasures) Settle(ctx context.Context) error {
	e.mu.Lock()
	defer e.mu.Unlock()
	listed, err := e.read()
	if err != nil {
		return err
	}
	clubs, err := e.ledger.Clubs(ctx)
	if err != nil {
		return err
	}
	all, of := slices.Clone(listed), map[string][]string{}
	for _, name := range listed {
		club := names.Part(name, "clubs")
		of[club] = append(of[club], name)
	}
	for _, club := range clubs {
		if len(of[club]) > 0 {
			if err := e.ledger.Update(ctx, club, func(tx *ledger.Tx) error { return e.again(tx, of[club]) }); err != nil {
				return err
			}
		}
		if err := e.ledger.View(ctx, club, func(tx *ledger.Tx) error {
			ids, err := tx.Erased()
			for _, id := range ids {
				all = append(all, names.Member(club, id))
			}
			return err
		}); err != nil {
			return err
		}
	}
	slices.Sort(all)
	if all = slices.Compact(all); len(all) > len(listed) {
		if err := e.write(all); err != nil {
			return err
		}
	}
	return e.rewrite(ctx)
}

// rewrite has the store rewritten where that is owed.
func (e *Erasures) rewrite(ctx context.Context) error {
	began := time.Now()
	slow := time.AfterFunc(time.Second, func() { e.log.Info("the store is being rewritten; calls that write wait for it") })
	done, err := e.ledger.Scrub(ctx)
	slow.Stop()
	if done {
		e.log.Info("the store was rewritten: nothing of what was erased is left in its file", "took", time.Since(began))
	}
	return err
}

// again erases who of the club stands on the list, and is in the club nevertheless.
func (e *Erasures) again(tx *ledger.Tx, listed []string) error {
	for _, name := range listed {
		member, err := tx.Member(names.Last(name))
		if fault.Is(err, pb.Reason_NOT_FOUND) || err == nil && member.ErasedAt != nil {
			continue
		}
		if err != nil {
			return err
		}
		if err := e.desk.erase(tx, member, true, &pb.EraseMemberResponse{}); err != nil {
			return err
		}
		if err := tx.Append(&pb.AuditEntry{Actor: byServer, Method: "erase", Resource: name,
			What: "erased the member again: the store was from before"}); err != nil {
			return err
		}
		e.log.Warn("a member who had been erased was in the store, and was erased again", "member", name)
	}
	return nil
}

// mostListed is how long the list of the erased may be, in bytes.
const mostListed = 16 << 20

// read reads the list; one that is not there is empty.
func (e *Erasures) read() ([]string, error) {
	if e.path == "" {
		return nil, nil
	}
	data, err := os.ReadFile(e.path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("the list of erased members cannot be read: %w", err)
	}
	listed, err := ReadErased(data)
	if err != nil {
		return nil, fmt.Errorf("%s:%w; put it right, or take the line away", e.path, err)
	}
	return listed, nil
}

// ReadErased reads a list of erased members: a resource name on each line; empty lines, and those that begin with #, are for
// people. The error begins with the number of the line.
func ReadErased(data []byte) (listed []string, err error) {
	if len(data) > mostListed {
		return nil, fmt.Errorf("1: the list is longer than %d MiB", mostListed>>20)
	}
	lines := bufio.NewScanner(bytes.NewReader(data))
	lines.Buffer(nil, mostListed+1)
	for number := 1; lines.Scan(); number++ {
		line := strings.TrimSpace(lines.Text())
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		ids, err := names.Parse("line", line, names.MemberShape)
		if err != nil || slices.Contains(ids, names.Any) {
			return nil, fmt.Errorf("%d: %.60q is not of the form clubs/CLUB/members/ID", number, line)
		}
		listed = append(listed, line)
	}
	slices.Sort(listed)
	return slices.Compact(listed), lines.Err()
}

// write puts a new list in the place of the old one, down to the disk.
func (e *Erasures) write(all []string) error {
	if e.path == "" {
		return nil
	}
	text := "# Members who were erased, by ids that point to nobody. Keep this file apart from backups of the store.\n" +
		strings.Join(all, "\n") + "\n"
	if err := wholefile.Write(e.path, []byte(text)); err != nil {
		return fmt.Errorf("the list of erased members cannot be written: %w", err)
	}
	return nil
}
