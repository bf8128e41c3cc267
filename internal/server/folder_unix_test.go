//go:build unix

package server_test

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	healthpb "google.golang.org/grpc/health/grpc_health_v1"

	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

// TestPolicyFolderFiles puts into the folder whatever can lie there under a club's name. What cannot be adopted is told
// with what to do, to the secretary and in the log, and changes nothing; after each a good file is in order again.
func TestPolicyFolderFiles(t *testing.T) {
	w := newWorld(t)
	dir := filepath.Dir(w.path)
	file := filepath.Join(dir, "fenwick.yaml")
	write := func(content []byte) func() error { return func() error { return os.WriteFile(file, content, 0o600) } }
	if err := write(policyfile.Winter)(); err != nil {
		t.Fatal(err)
	}
	defer w.watch()()
	until := w.health("policy-file.fenwick")
	until(healthpb.HealthCheckResponse_SERVING)
	for _, c := range []struct {
		name    string
		put     func() error
		problem string
	}{
		{"empty", write(nil), "empty"},
		{"half written", write(policyfile.Winter[:bytes.Index(policyfile.Winter, []byte("\n    otherwise: hold"))+11]), "half written"},
		{"half written, and a policy", write(bytes.TrimSuffix(policyfile.Winter, []byte("\n"))), "the last line has no end"},
		{"too large", write(bytes.Repeat([]byte("# more\n"), 200_000)), "at most 1048576 bytes (1 MiB)"},
		{"not UTF-8", write([]byte("title: caf\xe9\n")), "UTF-8"},
		{"a folder", func() error { return os.Mkdir(file, 0o700) }, "it is not a file"},
		{"a pipe", func() error { return syscall.Mkfifo(file, 0o600) }, "it is not a file"},
		{"a link to nothing", func() error { return os.Symlink(filepath.Join(dir, "nothing"), file) }, "cannot be read: no such file"},
		{"a link to a device", func() error { return os.Symlink("/dev/zero", file) }, "it is not a file"},
	} {
		if err := os.RemoveAll(file); err != nil {
			t.Fatal(err)
		}
		if err := c.put(); err != nil {
			t.Fatal(err)
		}
		until(healthpb.HealthCheckResponse_NOT_SERVING)
		listed, err := w.policies.ListPolicies(w.as("sec"), &pb.ListPoliciesRequest{Parent: club})
		if err != nil || len(listed.Policies) != 1 || len(listed.FolderProblems) == 0 {
			t.Fatalf("%s: %v %v", c.name, listed, told(err))
		}
		said := ""
		for _, problem := range listed.FolderProblems {
			said += problem.Message + "\n" + problem.Excerpt + "\n"
			if strings.Contains(problem.Message, dir) || problem.Hint == "" && problem.Line == 0 {
				t.Errorf("%s: %v", c.name, problem)
			}
		}
		if !strings.Contains(said, c.problem) {
			t.Errorf("%s: told %q", c.name, said)
		}
		// A good file beside it, renamed over it: as editors do.
		beside := filepath.Join(dir, ".fenwick.new")
		if err := os.RemoveAll(file); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(beside, policyfile.Winter, 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Rename(beside, file); err != nil {
			t.Fatal(err)
		}
		until(healthpb.HealthCheckResponse_SERVING)
	}
	if err := os.Remove(file); err != nil {
		t.Fatal(err)
	}
	until(healthpb.HealthCheckResponse_SERVICE_UNKNOWN)
	behind := filepath.Join(t.TempDir(), "policy")
	if err := os.WriteFile(behind, stricter(t), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(behind, file); err != nil {
		t.Fatal(err)
	}
	until(healthpb.HealthCheckResponse_SERVING)
	if got, err := w.policies.GetPolicy(w.as("sec"), &pb.GetPolicyRequest{Name: club + "/policies/-"}); err != nil || got.Number != 2 {
		t.Errorf("the file behind the link is not adopted: %v %v", got.GetNumber(), told(err))
	}
}
