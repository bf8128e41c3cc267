package server_test

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/status"

	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

// watch lets the server watch its policy folder until the function is called that it gives.
func (w *world) watch() (stop func()) {
	ctx, cancel := context.WithCancel(w.ctx)
	watched := make(chan error, 1)
	go func() { watched <- w.folder.Watch(ctx) }()
	return func() {
		cancel()
		if err := <-watched; err != nil {
			w.t.Error(err)
		}
	}
}

// health waits until a service of the server has a status.
func (w *world) health(service string) (until func(healthpb.HealthCheckResponse_ServingStatus)) {
	w.t.Helper()
	health, err := healthpb.NewHealthClient(w.conn).Watch(w.ctx, &healthpb.HealthCheckRequest{Service: service})
	if err != nil {
		w.t.Fatal(err)
	}
	return func(want healthpb.HealthCheckResponse_ServingStatus) {
		w.t.Helper()
		for {
			got, err := health.Recv()
			if err != nil {
				w.t.Fatal(err)
			}
			if got.Status == want {
				return
			}
		}
	}
}

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
	defer w.watch()()
	until := w.health("policy-file.fenwick")
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
	if !strings.Contains(w.log.String(), "the policy file is not adopted; the policy in force stays") {
		t.Error("the log does not tell of the error")
	}

	write(stricter(t))
	until(healthpb.HealthCheckResponse_SERVING)
	if got := inForce("sec"); got.Number != 2 || got.AdoptedBy != "server" || got.Text != string(stricter(t)) || len(got.FolderProblems) != 0 {
		t.Errorf("policy %d by %q, problems %v", got.Number, got.AdoptedBy, got.FolderProblems)
	}
}

// TestPolicyFolderNames: a file that is named after no club of the server is told in the log, with the names that do.
func TestPolicyFolderNames(t *testing.T) {
	w := newWorld(t)
	for _, name := range []string{"fenwik.yaml", "Fenwick Winter.yaml"} {
		if err := os.WriteFile(filepath.Join(filepath.Dir(w.path), name), policyfile.Winter, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	defer w.watch()()
	w.health("policy-file.fenwik")(healthpb.HealthCheckResponse_NOT_SERVING)
	for _, want := range []string{
		`problem="there is no club fenwik on this server" next="name the file after the club's id: fenwick.yaml"`,
		`problem="\"Fenwick Winter\" is not the id of a club" next="name the file after the club's id: fenwick.yaml"`,
	} {
		if log := w.log.String(); !strings.Contains(log, want) {
			t.Errorf("the log has no %s:\n%s", want, log)
		}
	}
}

// TestPolicyFolderAfterRestart: a server that begins does not take back what a secretary adopted meanwhile.
func TestPolicyFolderAfterRestart(t *testing.T) {
	w := newWorld(t)
	if err := os.WriteFile(filepath.Join(filepath.Dir(w.path), "fenwick.yaml"), policyfile.Winter, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := w.policies.AdoptPolicy(w.as("sec"), &pb.AdoptPolicyRequest{Parent: club, File: "s.yaml", Content: stricter(t)}); err != nil {
		t.Fatal(told(err))
	}
	defer w.watch()()
	w.health("policy-file.fenwick")(healthpb.HealthCheckResponse_SERVING)
	got, err := w.policies.GetPolicy(w.as("sec"), &pb.GetPolicyRequest{Name: club + "/policies/-"})
	if err != nil || got.Number != 2 || len(got.FolderProblems) != 1 {
		t.Fatalf("%v %v %v", got.GetNumber(), got.GetFolderProblems(), told(err))
	}
	if p := got.FolderProblems[0]; p.Severity != pb.Problem_WARNING ||
		p.Message != "the file is policy 1, which is not in force any more, and was not edited since: it is not adopted again" {
		t.Errorf("%v", p)
	}
}

// TestTerms: until when each policy counts, and what comes after it or in its place, as each is adopted and as all are
// listed. Today is 11 December 2026.
func TestTerms(t *testing.T) {
	w := newWorld(t)
	adopt := func(title, from string) (*pb.PolicyRevision, error) {
		content := bytes.Replace(policyfile.Winter, []byte("title: Winter readiness"), []byte("title: "+title), 1)
		return w.policies.AdoptPolicy(w.as("sec"), &pb.AdoptPolicyRequest{Parent: club, File: "p.yaml", Content: content, EffectiveFrom: from})
	}
	type term struct {
		until                            string
		followedBy, replacedBy, replaces int32
	}
	of := func(r *pb.PolicyRevision) term {
		return term{r.GetEffectiveUntil(), r.GetFollowedBy(), r.GetReplacedBy(), r.GetReplaces()}
	}
	for _, c := range []struct {
		title, from string
		want        term
	}{
		{"two", "2027-01-10", term{}},
		{"three", "", term{"2027-01-09", 2, 0, 1}},
		{"four", "2027-01-10", term{"", 0, 0, 2}},
		{"five", "2026-12-20", term{"2027-01-09", 4, 0, 0}},
	} {
		got, err := adopt(c.title, c.from)
		if err != nil || of(got) != c.want {
			t.Errorf("%s: %+v, want %+v; %s", c.title, of(got), c.want, told(err))
		}
	}
	listed, err := w.policies.ListPolicies(w.as("sec"), &pb.ListPoliciesRequest{Parent: club})
	if err != nil {
		t.Fatal(told(err))
	}
	want := []term{{"2027-01-09", 4, 0, 0}, {"", 0, 0, 2}, {"2026-12-19", 5, 0, 1}, {"", 0, 4, 0}, {"", 0, 3, 0}}
	for i, revision := range listed.Policies {
		if of(revision) != want[i] {
			t.Errorf("policy %d: %+v, want %+v", revision.Number, of(revision), want[i])
		}
	}
	for _, c := range []struct{ title, from, want string }{
		{"three", "", "nothing to adopt: this very file is policy 3, which counts from 2026-12-11 to 2026-12-19; policy 5 follows"},
		{"four", "2027-03-01", "nothing to adopt: this very file is policy 4, which counts from 2027-01-10 on"},
		{"six", "2026-12-10", "effective_from: 2026-12-10 is past; a policy counts from today, 2026-12-11, or later; rides before that keep the policy of their day"},
	} {
		if _, err := adopt(c.title, c.from); !strings.Contains(told(err), c.want) {
			t.Errorf("%s from %q: %s", c.title, c.from, told(err))
		}
	}
}

// TestStrayFileIsTakenAway: a file that is no club's leaves no trace in health, there or gone.
func TestStrayFileIsTakenAway(t *testing.T) {
	w := newWorld(t)
	folder := filepath.Dir(w.path)
	write := func(name string, content []byte) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(folder, name), content, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write("No Club.yaml", policyfile.Winter)
	write("fenwick.yaml", policyfile.Winter)
	defer w.watch()()
	until := w.health("policy-file.fenwick")
	until(healthpb.HealthCheckResponse_SERVING)
	if err := os.Remove(filepath.Join(folder, "No Club.yaml")); err != nil {
		t.Fatal(err)
	}
	// Two more looks at the folder: after the second, the first has ended.
	write("fenwick.yaml", bytes.Replace(policyfile.Winter, []byte("otherwise: back"), []byte("otherwise: bakc"), 1))
	until(healthpb.HealthCheckResponse_NOT_SERVING)
	write("fenwick.yaml", policyfile.Winter)
	until(healthpb.HealthCheckResponse_SERVING)
	_, err := healthpb.NewHealthClient(w.conn).Check(w.ctx, &healthpb.HealthCheckRequest{Service: "policy-file.No Club"})
	if status.Code(err) != codes.NotFound {
		t.Errorf("health knows it: %v", err)
	}
}
