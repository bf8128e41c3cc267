package server

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// maxPolicyBytes is as much as a policy file may have, as AdoptPolicy has it.
const maxPolicyBytes = 1 << 20

// adopt adopts a file for a club, unless it is in force already, and tells why not otherwise. first: the server has just
// begun. Then a file that was adopted before and has been replaced since is not adopted again: nobody has edited it.
func (f *PolicyFolder) adopt(ctx context.Context, club, file string, first bool) []*pb.Problem {
	wrong := func(message, hint string) []*pb.Problem {
		return []*pb.Problem{{File: filepath.Base(file), Severity: pb.Problem_ERROR, Message: message, Hint: hint}}
	}
	if !names.ValidClub(club) {
		return wrong(fmt.Sprintf("%q is not the id of a club", club), "name the file after the club's id: "+f.clubs(ctx))
	}
	content, err := readPolicyFile(file)
	if err != nil {
		return wrong(err.Error(), "put a policy file there that the server may read; gritward policy show writes the one in force")
	}
	if len(content) > 0 && content[len(content)-1] != '\n' {
		// The beginning of a policy is often a policy too, of fewer rules.
		return wrong("the last line has no end, so that the file may be half written", "end the last line with Enter, and save the file again")
	}
	var problems []*pb.Problem
	err = f.desk.ledger.Update(ctx, club, func(tx *ledger.Tx) error {
		problems, err = f.adoptIn(tx, filepath.Base(file), content, first)
		return err
	})
	var told *fault.Error
	switch {
	case err == nil:
		return problems
	case fault.Is(err, pb.Reason_NOT_FOUND):
		return wrong(fmt.Sprintf("there is no club %s on this server", club), "name the file after the club's id: "+f.clubs(ctx))
	case errors.As(err, &told):
		return wrong(told.Error(), "save the file again to try once more")
	}
	f.log.Error("a policy file could not be adopted", "club", club, "error", err)
	return wrong("the server could not adopt it", "its log says why; save the file again to try once more")
}

// adoptIn adopts a file in a transaction.
func (f *PolicyFolder) adoptIn(tx *ledger.Tx, file string, content []byte, first bool) ([]*pb.Problem, error) {
	read, problems, err := f.desk.readPolicy(tx, file, content)
	if err != nil {
		return nil, err
	}
	if read == nil {
		return onlyErrors(problems), nil
	}
	if first {
		if stale, err := f.known(tx, file, read.Digest()); stale != nil || err != nil {
			return stale, err
		}
	}
	entry := &pb.AuditEntry{Actor: byServer, Method: "policy folder"}
	made, err := f.desk.adopt(tx, entry, &pb.AdoptPolicyRequest{File: file, Content: content, Note: "edited in the server's policy folder"})
	if fault.Is(err, pb.Reason_WRONG_STATE) {
		return nil, nil // in force already
	}
	if err != nil {
		return nil, err
	}
	f.log.Info("adopted a policy from the folder", "club", tx.Club, "policy", made.Name, "doubts", len(problems))
	return nil, nil
}

// known tells of a file that was adopted before and is not what counts today; nil when it does, or is new.
func (f *PolicyFolder) known(tx *ledger.Tx, file, digest string) ([]*pb.Problem, error) {
	_, zone, err := f.desk.zone(tx)
	if err != nil {
		return nil, err
	}
	today := tx.Now.In(zone).Format(civil.DateLayout)
	if inForce, err := tx.PolicyOn(today); err != nil || inForce.Digest == digest {
		return nil, ignoring(err, pb.Reason_NO_POLICY)
	}
	all, err := revisions(tx)
	at := slices.IndexFunc(all, func(revision *pb.PolicyRevision) bool { return revision.Digest == digest })
	if err != nil || at < 0 {
		return nil, err
	}
	what := "which is not in force any more"
	if all[at].EffectiveFrom > today {
		what = "which counts from " + all[at].EffectiveFrom + " on"
	}
	return []*pb.Problem{{File: file, Severity: pb.Problem_WARNING,
		Message: fmt.Sprintf("the file is policy %d, %s, and was not edited since: it is not adopted again", all[at].Number, what),
		Hint:    "save it again to adopt it from today on; gritward policy show writes the policy in force"}}, nil
}

func ignoring(err error, reason pb.Reason) error {
	if fault.Is(err, reason) {
		return nil
	}
	return err
}

// readPolicyFile reads a file that anything may have been done to: it can be a pipe, a folder, or have no end.
func readPolicyFile(path string) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, cause(err)
	}
	if !info.Mode().IsRegular() {
		return nil, errors.New("it is not a file")
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, cause(err)
	}
	defer func() { _ = file.Close() }()
	content, err := io.ReadAll(io.LimitReader(file, maxPolicyBytes+1))
	if err != nil {
		return nil, cause(err)
	}
	if len(content) > maxPolicyBytes {
		return nil, fmt.Errorf("the file is too large: a policy file has at most %d bytes (1 MiB)", maxPolicyBytes)
	}
	return content, nil
}

// cause is an error of the file system without the path on the server, which is not for everybody.
func cause(err error) error {
	var at *fs.PathError
	if errors.As(err, &at) {
		return fmt.Errorf("the file cannot be read: %w", at.Err)
	}
	return err
}

// clubs names files for the clubs of this server.
func (f *PolicyFolder) clubs(ctx context.Context) string {
	ids, err := f.desk.ledger.Clubs(ctx)
	if err != nil || len(ids) == 0 {
		return "CLUB.yaml"
	}
	if len(ids) > 5 {
		ids = append(ids[:5:5], "...")
	}
	return strings.Join(ids, ".yaml, ") + ".yaml"
}

func onlyErrors(problems []*pb.Problem) []*pb.Problem {
	var wrong []*pb.Problem
	for _, problem := range problems {
		if isError(problem) {
			wrong = append(wrong, problem)
		}
	}
	return wrong
}
