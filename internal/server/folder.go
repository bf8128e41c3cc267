package server

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/fsnotify/fsnotify"
	"google.golang.org/grpc/health"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// settle is how long a file must lie still before it is read: editors write in several steps.
const settle = 300 * time.Millisecond

// maxPolicyBytes is as much as a policy file may have, as AdoptPolicy has it.
const maxPolicyBytes = 1 << 20

// PolicyFolder is a folder with a policy file for each club, CLUB.yaml. A valid edit is adopted from today on; one with
// errors changes nothing, and is told in the log, in health (service "policy-file.CLUB"), and to the club's secretaries
// when they read the policy in force.
type PolicyFolder struct {
	path   string
	desk   *desk
	health *health.Server
	log    *slog.Logger

	mu   sync.Mutex
	told map[string][]*pb.Problem
}

// NewPolicyFolder names the folder. It does nothing until Watch is called.
func NewPolicyFolder(path string) *PolicyFolder {
	return &PolicyFolder{path: path, told: map[string][]*pb.Problem{}}
}

// join gives the folder what it works with.
func (f *PolicyFolder) join(d *desk, h *health.Server, log *slog.Logger) {
	f.desk, f.health, f.log = d, h, log
}

// problems tells what is wrong with a club's file.
func (f *PolicyFolder) problems(club string) []*pb.Problem {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.told[club]
}

// Watch reads every file in the folder, and again whenever one is edited, until the context ends. The server must have
// been made with the folder. The error is that the folder cannot be watched.
func (f *PolicyFolder) Watch(ctx context.Context) error {
	watcher, err := fsnotify.NewWatcher()
	if err != nil {
		return err
	}
	defer func() { _ = watcher.Close() }()
	if err := watcher.Add(f.path); err != nil {
		return fmt.Errorf("the policy folder %s cannot be watched: %w", f.path, err)
	}
	files, err := filepath.Glob(filepath.Join(f.path, "*.yaml"))
	if err != nil {
		return err
	}
	for _, file := range files {
		f.read(ctx, file)
	}
	still := time.NewTimer(settle)
	edited := map[string]bool{}
	for {
		select {
		case <-ctx.Done():
			return nil
		case event, ok := <-watcher.Events:
			if !ok {
				return nil
			}
			if strings.HasSuffix(event.Name, ".yaml") && !event.Has(fsnotify.Chmod) {
				edited[event.Name] = true
				still.Reset(settle)
			}
		case err := <-watcher.Errors:
			f.log.Error("watching the policy folder", "folder", f.path, "error", err)
		case <-still.C:
			for file := range edited {
				f.read(ctx, file)
			}
			clear(edited)
		}
	}
}

// read adopts one file, or tells what is wrong with it.
func (f *PolicyFolder) read(ctx context.Context, file string) {
	club := strings.TrimSuffix(filepath.Base(file), ".yaml")
	if !names.ValidClub(club) {
		return
	}
	problems, err := f.adopt(ctx, club, file)
	if errors.Is(err, fs.ErrNotExist) {
		return // taken away or renamed: the policy in force stays
	}
	if err != nil {
		problems = append(problems, &pb.Problem{File: file, Severity: pb.Problem_ERROR, Message: err.Error()})
	}
	status := healthpb.HealthCheckResponse_SERVING
	if len(problems) > 0 {
		status = healthpb.HealthCheckResponse_NOT_SERVING
	}
	for _, problem := range problems {
		f.log.Error("the policy file has an error; the policy in force stays", "club", club,
			"at", fmt.Sprintf("%s:%d:%d", problem.File, problem.Line, problem.Column), "problem", problem.Message)
	}
	f.mu.Lock()
	f.told[club] = problems
	f.mu.Unlock()
	f.health.SetServingStatus("policy-file."+club, status) // last: who sees it finds the rest
}

// adopt adopts a file for a club, unless it is in force already; the problems are its errors.
func (f *PolicyFolder) adopt(ctx context.Context, club, file string) ([]*pb.Problem, error) {
	info, err := os.Stat(file)
	if err != nil {
		return nil, err
	}
	if info.Size() > maxPolicyBytes {
		return nil, fmt.Errorf("the file has %d bytes; a policy file has at most %d", info.Size(), maxPolicyBytes)
	}
	content, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	var wrong []*pb.Problem
	err = f.desk.ledger.Update(ctx, club, func(tx *ledger.Tx) error {
		read, problems, err := f.desk.readPolicy(tx, filepath.Base(file), content)
		if err != nil {
			return err
		}
		if read == nil {
			wrong = onlyErrors(problems)
			return nil
		}
		entry := &pb.AuditEntry{Actor: byServer, Method: "policy folder"}
		made, err := f.desk.adopt(tx, entry, &pb.AdoptPolicyRequest{
			File: filepath.Base(file), Content: content, Note: "edited in the server's policy folder"})
		if err == nil {
			f.log.Info("adopted a policy from the folder", "club", club, "policy", made.Name)
		}
		if fault.Is(err, pb.Reason_WRONG_STATE) {
			return nil // in force already
		}
		return err
	})
	return wrong, err
}

func onlyErrors(problems []*pb.Problem) []*pb.Problem {
	var wrong []*pb.Problem
	for _, problem := range problems {
		if problem.Severity == pb.Problem_ERROR {
			wrong = append(wrong, problem)
		}
	}
	return wrong
}
