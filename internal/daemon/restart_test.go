package daemon_test

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"

	"gritward/internal/ledger"
	"gritward/internal/store/bolt"
	pb "gritward/proto/gritward/v1"
)

// started is a server in a process of its own.
type started struct {
	*exec.Cmd
	lines chan string
	log   *safeLog
}

// safeLog is a log that a test reads while the server writes.
type safeLog struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (l *safeLog) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(p)
}

func (l *safeLog) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.String()
}

// start starts gritwardd serve; what it says comes line by line.
func start(t *testing.T, args ...string) *started {
	t.Helper()
	s := &started{Cmd: exec.Command("gritwardd", append([]string{"serve", "--listen", "127.0.0.1:0"}, args...)...), lines: make(chan string, 1000), log: &safeLog{}}
	s.Stderr = s.log
	s.Env = append(os.Environ(), "HOME="+t.TempDir(), "XDG_CONFIG_HOME=")
	out, err := s.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Process.Kill(); _ = s.Wait() })
	go func() {
		for scanner := bufio.NewScanner(out); scanner.Scan(); {
			s.lines <- scanner.Text()
		}
		close(s.lines)
	}()
	return s
}

// says waits until the server says what matches, and gives the first group.
func (s *started) says(t *testing.T, what string) string {
	t.Helper()
	pattern, until := regexp.MustCompile(what), time.After(time.Minute)
	for {
		select {
		case line, more := <-s.lines:
			if found := pattern.FindStringSubmatch(line); found != nil {
				return found[1]
			}
			if !more {
				t.Fatalf("the server ended, and did not say %s: %s", what, s.log)
			}
		case <-until:
			t.Fatalf("the server does not say %s: %s", what, s.log)
		}
	}
}

// TestRestartUnderLoad starts a server again and again under clients that call all the while, each call once, some on one connection
// and some on a new one each time, and under browsers: none fails, and all that was acknowledged is there.
func TestRestartUnderLoad(t *testing.T) {
	data, invite := founded(t)
	server := start(t, "--data", data, "--pages-listen", "127.0.0.1:0", "--device-calls-min", "100000", "--address-calls-min", "100000", "--address-connections", "10000")
	address := server.says(t, `Serving 1 club on (\S+)`)
	page := server.says(t, `Pages: (\S+)`)
	dial := func() *grpc.ClientConn {
		conn, err := grpc.NewClient(address, grpc.WithTransportCredentials(insecure.NewCredentials()))
		if err != nil {
			t.Error(err)
		}
		return conn
	}
	conn := dial()
	defer conn.Close()
	let, err := pb.NewClubServiceClient(conn).AcceptInvite(t.Context(), &pb.AcceptInviteRequest{Code: invite, DeviceTitle: "test"})
	if err != nil {
		t.Fatal(err)
	}
	within, end := context.WithCancel(context.Background())
	ctx := metadata.AppendToOutgoingContext(context.Background(), "authorization", "Bearer "+let.Token)
	var mu sync.Mutex
	acknowledged, pages := []string{}, 0
	var group sync.WaitGroup
	for writer := range 12 {
		group.Go(func() {
			for i := 0; within.Err() == nil; i++ {
				on := conn
				if writer%3 == 0 {
					on = dial()
				}
				name := fmt.Sprintf("Rider %c %d", 'a'+writer, i)
				_, err := pb.NewClubServiceClient(on).CreateInvite(ctx, &pb.CreateInviteRequest{Parent: "clubs/fenwick", Invite: &pb.Invite{DisplayName: name, Roles: []pb.Role{pb.Role_MEMBER}}})
				if on != conn {
					_ = on.Close()
				}
				if err != nil {
					t.Errorf("%s: %v", name, err)
					return
				}
				mu.Lock()
				acknowledged = append(acknowledged, name)
				mu.Unlock()
			}
		})
	}
	group.Go(func() {
		browser := &http.Client{}
		for within.Err() == nil {
			answer, err := browser.Get(page + "/")
			if err != nil {
				t.Errorf("a page: %v", err)
				return
			}
			_ = answer.Body.Close()
			mu.Lock()
			pages++
			mu.Unlock()
		}
	})
	for range 4 {
		if err := server.Process.Signal(syscall.SIGUSR2); err != nil {
			t.Fatal(err)
		}
		if again := server.says(t, `Serving 1 club on (\S+)`); again != address {
			t.Errorf("it listens at %s, and before at %s", again, address)
		}
		enough := len(acknowledgedNow(&mu, &acknowledged)) + 50
		for until := time.Now().Add(time.Minute); len(acknowledgedNow(&mu, &acknowledged)) < enough && time.Now().Before(until); {
			time.Sleep(5 * time.Millisecond)
		}
	}
	end()
	group.Wait()
	if err := server.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := server.Wait(); err != nil {
		t.Errorf("the server ended with %v: %s", err, server.log)
	}
	there := map[string]int{}
	s, err := bolt.Open(bolt.Options{Path: data, Now: time.Now, ReadOnly: true, Suspect: true})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = s.Close() }()
	if err := ledger.New(s, time.Now).View(t.Context(), "fenwick", func(tx *ledger.Tx) error {
		return tx.Invites(func(record *pb.InviteRecord) error { there[record.Invite.DisplayName]++; return nil })
	}); err != nil {
		t.Fatal(err)
	}
	for _, name := range acknowledged {
		if there[name] != 1 {
			t.Errorf("%s was acknowledged and is there %d times", name, there[name])
		}
	}
	if len(acknowledged) < 200 || pages < 10 {
		t.Errorf("%d calls and %d pages", len(acknowledged), pages)
	}
	t.Logf("%d calls and %d pages over 4 restarts", len(acknowledged), pages)
}

func acknowledgedNow(mu *sync.Mutex, all *[]string) []string {
	mu.Lock()
	defer mu.Unlock()
	return *all
}

// TestRestartRefused: with settings that are wrong by now the server goes on as it is, and its log says why.
func TestRestartRefused(t *testing.T) {
	data, invite := founded(t)
	file := filepath.Join(t.TempDir(), "server.yaml")
	write := func(text string) {
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write("data: " + data + "\n")
	server := start(t, "--settings", file)
	address := server.says(t, `Serving 1 club on (\S+)`)
	write("data: " + data + "\nlog_level: loud\n")
	if err := server.Process.Signal(syscall.SIGUSR2); err != nil {
		t.Fatal(err)
	}
	for until := time.Now().Add(time.Minute); !strings.Contains(server.log.String(), "goes on as it is") && time.Now().Before(until); {
		time.Sleep(5 * time.Millisecond)
	}
	if !strings.Contains(server.log.String(), "server.yaml:2:1") {
		t.Errorf("the log does not say what is wrong: %s", server.log)
	}
	conn, err := grpc.NewClient(address, grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	if _, err := pb.NewClubServiceClient(conn).AcceptInvite(t.Context(), &pb.AcceptInviteRequest{Code: invite, DeviceTitle: "test"}); err != nil {
		t.Error(err)
	}
}

// TestHandedOver takes sockets as systemd hands them over (sd_listen_fds(3)), and refuses one of which nobody knows what it is for.
func TestHandedOver(t *testing.T) {
	data, _ := founded(t)
	for _, row := range []struct{ names, says string }{{"listen", "Serving 1 club on "}, {"gritwardd.socket", "Serving 1 club on "}, {"listen:knitting", "FileDescriptorName must be one of"}} {
		var files []*os.File
		at := ""
		for range strings.Split(row.names, ":") {
			listener := listening(t)
			file, err := listener.File()
			if err != nil {
				t.Fatal(err)
			}
			at = listener.Addr().String()
			files = append(files, file)
		}
		// Only the shell knows its own id before the server is started in its place.
		server := exec.Command("sh", "-c", `LISTEN_PID=$$ exec gritwardd serve --listen 127.0.0.1:1 --data "$0"`, data)
		server.ExtraFiles = files
		server.Env = append(os.Environ(), "HOME="+t.TempDir(), "XDG_CONFIG_HOME=", fmt.Sprint("LISTEN_FDS=", len(files)), "LISTEN_FDNAMES="+row.names)
		var errOut safeLog
		server.Stderr = &errOut
		out, err := server.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := server.Start(); err != nil {
			t.Fatal(err)
		}
		said, _ := bufio.NewReader(out).ReadString('\n')
		_ = server.Process.Signal(syscall.SIGTERM)
		_ = server.Wait()
		if !strings.Contains(said+errOut.String(), row.says) || said != "" && !strings.Contains(said, at) {
			t.Errorf("%s: %q, %s; the socket is %s", row.names, said, &errOut, at)
		}
	}
}
