package server_test

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	healthpb "google.golang.org/grpc/health/grpc_health_v1"

	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

// TestPolicyFolder edits a club's file in the server's policy folder: an edit with an error changes nothing and is told
// in health, in the log and to the secretary; a valid one is adopted.
func TestPolicyFolder(t *testing.T) {
	w := newWorld(t)
	w.member("Mia", nil)
	file := filepath.Join(filepath.Dir(w.path), "fenwick.yaml")
	write := func(content []byte) {
		t.Helper()
		if err := os.WriteFile(file, content, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write(policyfile.Winter)
	ctx, stop := context.WithCancel(w.ctx)
	watched := make(chan error, 1)
	go func() { watched <- w.folder.Watch(ctx) }()
	defer func() {
		stop()
		if err := <-watched; err != nil {
			t.Error(err)
		}
	}()
	health, err := healthpb.NewHealthClient(w.conn).Watch(w.ctx, &healthpb.HealthCheckRequest{Service: "policy-file.fenwick"})
	if err != nil {
		t.Fatal(err)
	}
	until := func(want healthpb.HealthCheckResponse_ServingStatus) {
		t.Helper()
		for {
			got, err := health.Recv()
			if err != nil {
				t.Fatal(err)
			}
			if got.Status == want {
				return
			}
		}
	}
	inForce := func(as string) *pb.PolicyRevision {
		t.Helper()
		got, err := w.policies.GetPolicy(w.as(as), &pb.GetPolicyRequest{Name: club + "/policies/-"})
		if err != nil {
			t.Fatal(told(err))
		}
		return got
	}
	until(healthpb.HealthCheckResponse_SERVING)
	if got := inForce("sec"); got.Number != 1 || len(got.FolderProblems) != 0 {
		t.Errorf("the very policy in force was adopted again: %d %v", got.Number, got.FolderProblems)
	}

	write(bytes.Replace(policyfile.Winter, []byte("otherwise: back"), []byte("otherwise: bakc"), 1))
	until(healthpb.HealthCheckResponse_NOT_SERVING)
	got := inForce("sec")
	if got.Number != 1 || len(got.FolderProblems) != 1 || got.FolderProblems[0].Line == 0 || !strings.Contains(got.FolderProblems[0].Message, "bakc") {
		t.Errorf("policy %d, problems %v", got.Number, got.FolderProblems)
	}
	if got := inForce("mia"); len(got.FolderProblems) != 0 {
		t.Error("a member is told of the secretary's file")
	}
	if !strings.Contains(w.log.String(), "the policy file has an error; the policy in force stays") {
		t.Error("the log does not tell of the error")
	}

	write(stricter(t))
	until(healthpb.HealthCheckResponse_SERVING)
	if got := inForce("sec"); got.Number != 2 || got.AdoptedBy != "server" || got.Text != string(stricter(t)) || len(got.FolderProblems) != 0 {
		t.Errorf("policy %d by %q, problems %v", got.Number, got.AdoptedBy, got.FolderProblems)
	}
}
