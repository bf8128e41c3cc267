package daemon_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"sync"
	"syscall"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"

	"gritward/internal/ledger"
	"gritward/internal/store/bolt"
	pb "gritward/proto/gritward/v1"
)

// founded founds a club in a file and gives the code of its first invite.
func founded(t testing.TB) (data, invite string) {
	t.Helper()
	data = filepath.Join(t.TempDir(), "club.db")
	code, out, errOut := run(t, "found", "fenwick", "--data", data, "--title", "Fenwick Wheelers", "--secretary", "Ida Rook",
		"--zone", "Europe/London", "--at", "54.1,-2.2", "--json")
	var answer struct {
		Code string `json:"invite_code"`
	}
	if err := json.Unmarshal([]byte(out), &answer); err != nil || code != 0 {
		t.Fatalf("exit %d, %v: %s", code, err, errOut)
	}
	return data, answer.Code
}

// signedIn takes an invite at a server's address, and gives the club's service and a context in which to call it.
func signedIn(t *testing.T, address, invite string) (pb.ClubServiceClient, context.Context) {
	t.Helper()
	conn, err := grpc.NewClient(address, grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = conn.Close() })
	clubs := pb.NewClubServiceClient(conn)
	let, err := clubs.AcceptInvite(t.Context(), &pb.AcceptInviteRequest{Code: invite, DeviceTitle: "test"})
	if err != nil {
		t.Fatal(err)
	}
	return clubs, metadata.AppendToOutgoingContext(context.Background(), "authorization", "Bearer "+let.Token)
}

// TestStopUnderLoad sends a server that is full of work the signal to stop: every call that was acknowledged is in the store,
// every other one is refused or broken off, none waits for ever, and what was refused is not there.
func TestStopUnderLoad(t *testing.T) {
	data, invite := founded(t)
	server := exec.Command("gritwardd", "serve", "--data", data, "--listen", "127.0.0.1:0", "--device-calls-min", "100000", "--address-calls-min", "100000")
	var log bytes.Buffer
	server.Stderr = &log
	out, err := server.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := server.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = server.Process.Kill() })
	said, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatalf("the server did not start: %s", log.String())
	}
	go func() { _, _ = io.Copy(io.Discard, out) }()
	clubs, ctx := signedIn(t, regexp.MustCompile(`127\.0\.0\.1:\d+`).FindString(said), invite)
	var mu sync.Mutex
	acknowledged, refused, unknown := map[string]bool{}, map[string]bool{}, 0
	enough := make(chan struct{})
	var group sync.WaitGroup
	for writer := range 40 {
		group.Go(func() {
			for i := 0; ; i++ {
				name := fmt.Sprintf("Rider %c%c %d", 'a'+writer/26, 'a'+writer%26, i)
				_, err := clubs.CreateInvite(ctx, &pb.CreateInviteRequest{Parent: "clubs/fenwick", Invite: &pb.Invite{DisplayName: name, Roles: []pb.Role{pb.Role_MEMBER}}})
				mu.Lock()
				switch code := status.Code(err); {
				case err == nil:
					if acknowledged[name] = true; len(acknowledged) == 300 {
						close(enough)
					}
				case code != codes.Unavailable:
					t.Errorf("%s: %v", name, err)
				case len(status.Convert(err).Details()) > 0:
					refused[name] = true // by the server, which says that nothing was done
				default:
					unknown++ // the connection ended
				}
				mu.Unlock()
				if err != nil {
					return
				}
			}
		})
	}
	<-enough
	if err := server.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	group.Wait()
	if err := server.Wait(); err != nil {
		t.Errorf("the server ended with %v: %s", err, log.String())
	}
	there := map[string]bool{}
	s, err := bolt.Open(bolt.Options{Path: data, Now: time.Now, ReadOnly: true, Suspect: true})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = s.Close() }()
	if err := ledger.New(s, time.Now).View(t.Context(), "fenwick", func(tx *ledger.Tx) error {
		if _, err := tx.VerifyAudit(nil); err != nil {
			return err
		}
		return tx.Invites(func(record *pb.InviteRecord) error { there[record.Invite.DisplayName] = true; return nil })
	}); err != nil {
		t.Fatal(err)
	}
	for name := range acknowledged {
		if !there[name] {
			t.Errorf("%s was acknowledged and is lost", name)
		}
	}
	for name := range refused {
		if there[name] {
			t.Errorf("%s was refused and is there", name)
		}
	}
	t.Logf("%d acknowledged, %d refused, %d broken off", len(acknowledged), len(refused), unknown)
}

// TestDamagedWhileServing cuts the store's file short under a server: calls are refused with what to do, and health says so.
func TestDamagedWhileServing(t *testing.T) {
	data, invite := founded(t)
	conn := serving(t, insecure.NewCredentials(), "--data", data)
	health := healthpb.NewHealthClient(conn)
	watch, err := health.Watch(t.Context(), &healthpb.HealthCheckRequest{})
	if err != nil {
		t.Fatal(err)
	}
	if first, err := watch.Recv(); err != nil || first.Status != healthpb.HealthCheckResponse_SERVING {
		t.Fatalf("%v, %v", first, err)
	}
	if err := os.Truncate(data, 0); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		_, err = pb.NewClubServiceClient(conn).AcceptInvite(t.Context(), &pb.AcceptInviteRequest{Code: invite, DeviceTitle: "test"})
		if made := status.Convert(err); made.Code() != codes.Unavailable || made.Message() != "the server's store is damaged, and nothing is served from it; whoever runs the server finds in its log what to do" {
			t.Errorf("%v", err)
		}
	}
	if next, err := watch.Recv(); err != nil || next.Status != healthpb.HealthCheckResponse_NOT_SERVING {
		t.Errorf("health: %v, %v", next, err)
	}
}
