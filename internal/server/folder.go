package server

import (
	"context"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/fsnotify/fsnotify"
	"google.golang.org/grpc/health"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

const (
	// settle is how long the folder must lie still before it is read: editors write in several steps.
	settle = 300 * time.Millisecond
	// lookAgain is how often the folder is looked at though nothing was told of it: a file behind a link, or on a disk of
	// another machine, is edited without that.
	lookAgain = time.Minute
)

// PolicyFolder is a folder with a policy file for each club, CLUB.yaml. A valid edit is adopted from today on; one with
// errors changes nothing, and is told in the log, in health (service "policy-file.CLUB"), and to the club's secretaries
// when they read the policy in force or the history. A file that is taken away changes nothing either, and one
// without an end of its last line is taken for half written. Who writes slowly writes beside the file and renames.
type PolicyFolder struct {
	path   string
	desk   *desk
	health *health.Server
	log    *slog.Logger
	seen   map[string]look // by file; of Watch alone

	mu   sync.Mutex
	told map[string][]*pb.Problem
}

// look is what a file looked like when it was read; when any of it differs it is read again.
type look struct {
	size     int64
	modified time.Time
	mode     fs.FileMode
}

// NewPolicyFolder names the folder. It does nothing until Watch is called.
func NewPolicyFolder(path string) *PolicyFolder {
	return &PolicyFolder{path: path, seen: map[string]look{}, told: map[string][]*pb.Problem{}}
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

// Refused are the clubs whose file is not adopted, by id, in order. A nil folder has none.
func (f *PolicyFolder) Refused() (clubs []string) {
	if f == nil {
		return nil
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	for club, problems := range f.told {
		if slices.ContainsFunc(problems, isError) {
			clubs = append(clubs, club)
		}
	}
	slices.Sort(clubs)
	return clubs
}

// refused tells a secretary why the club's file in the policy folder is not adopted; nobody else is told anything.
func (s *policyService) refused(who *caller) []*pb.Problem {
	if s.folder == nil || !who.has(pb.Role_SECRETARY) {
		return nil
	}
	return s.folder.problems(who.club)
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
		return fmt.Errorf("the policy folder %s cannot be watched: %w; make the folder, or name another with policy_folder", f.path, err)
	}
	clear(f.seen)
	f.readAll(ctx, true)
	still, again := time.NewTimer(settle), time.NewTicker(lookAgain)
	defer again.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case event, ok := <-watcher.Events:
			if !ok {
				return nil
			}
			if filepath.Ext(event.Name) == ".yaml" {
				still.Reset(settle)
			}
		case err := <-watcher.Errors:
			f.log.Error("watching the policy folder", "folder", f.path, "error", err)
			still.Reset(settle)
		case <-still.C:
			f.readAll(ctx, false)
		case <-again.C:
			f.readAll(ctx, false)
		}
	}
}

// readAll reads the files that look otherwise than when they were last read, and tells of those that are gone. first: the
// server has just begun, and does not know whether they were edited.
func (f *PolicyFolder) readAll(ctx context.Context, first bool) {
	entries, err := os.ReadDir(f.path)
	if err != nil {
		f.log.Error("the policy folder cannot be read; the policies in force stay", "folder", f.path, "error", err)
		return
	}
	there := map[string]bool{}
	for _, entry := range entries {
		file := filepath.Join(f.path, entry.Name())
		if filepath.Ext(file) != ".yaml" {
			continue
		}
		there[file] = true
		now := look{}
		if info, err := os.Stat(file); err == nil {
			now = look{info.Size(), info.ModTime(), info.Mode()}
		}
		if before, read := f.seen[file]; !read || before != now {
			f.seen[file] = now
			f.read(ctx, file, first)
		}
	}
	for file := range f.seen {
		if !there[file] {
			delete(f.seen, file)
			f.gone(file)
		}
	}
}

func clubOf(file string) string { return strings.TrimSuffix(filepath.Base(file), ".yaml") }

// gone tells that a file was taken away or renamed; the policy in force stays.
func (f *PolicyFolder) gone(file string) {
	club := clubOf(file)
	f.log.Info("the policy file is gone; the policy in force stays", "club", club, "file", file)
	if !names.ValidClub(club) {
		return
	}
	f.tell(club, nil, healthpb.HealthCheckResponse_SERVICE_UNKNOWN)
}

// tell keeps what is to be told of a club's file.
func (f *PolicyFolder) tell(club string, problems []*pb.Problem, status healthpb.HealthCheckResponse_ServingStatus) {
	f.mu.Lock()
	f.told[club] = problems
	f.mu.Unlock()
	f.health.SetServingStatus("policy-file."+club, status) // last: who sees it finds the rest
}

// mostLogged is how many problems of one file go into the log.
const mostLogged = 10

// read adopts one file, or tells why not.
func (f *PolicyFolder) read(ctx context.Context, file string, first bool) {
	club := clubOf(file)
	before := f.problems(club)
	problems := f.adopt(ctx, club, file, first)
	for i, problem := range problems {
		if i == mostLogged {
			f.log.Error("the policy file has more errors", "club", club, "more", len(problems)-i, "next", "gritward policy check "+filepath.Base(file))
			break
		}
		level := slog.LevelError
		if problem.Severity == pb.Problem_WARNING {
			level = slog.LevelWarn
		}
		at := file
		if problem.Line > 0 {
			at = fmt.Sprintf("%s:%d:%d", file, problem.Line, problem.Column)
		}
		f.log.Log(ctx, level, "the policy file is not adopted; the policy in force stays", "club", club, "at", at,
			"problem", problem.Message, "next", problem.Hint)
	}
	if len(problems) == 0 && len(before) > 0 {
		f.log.Info("the policy file is in order again", "club", club, "file", file)
	}
	status := healthpb.HealthCheckResponse_SERVING
	if slices.ContainsFunc(problems, isError) {
		status = healthpb.HealthCheckResponse_NOT_SERVING
	}
	if !names.ValidClub(club) {
		return // no club can be told, and no service is called so
	}
	f.tell(club, problems, status)
}

func isError(problem *pb.Problem) bool { return problem.Severity == pb.Problem_ERROR }
