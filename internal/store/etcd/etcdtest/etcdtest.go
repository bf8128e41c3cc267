// Package etcdtest starts real etcd servers for tests: the program etcd, which must be installed (Debian: etcd-server).
package etcdtest

import (
	"bufio"
	"context"
	"crypto/tls"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"
	"go.uber.org/zap"
)

// shared is the one server that the tests of a process share, each with a prefix of its own.
var shared struct {
	once    sync.Once
	address string
	folder  string
	err     error
	// held keeps the server alive: it ends when this process does, however it ends.
	held   io.Closer
	stores atomic.Int64
}

// Shared is the address of a server of one member that the tests of this process share, and a prefix that no other test has.
func Shared(t testing.TB) (address, prefix string) {
	t.Helper()
	shared.once.Do(func() { shared.err = startShared() })
	if shared.err != nil {
		t.Fatal(shared.err)
	}
	return shared.address, fmt.Sprintf("test%d/", shared.stores.Add(1))
}

// SharedFile is the file in which the shared server keeps its keys.
func SharedFile() string { return filepath.Join(shared.folder, "member", "snap", "db") }

// keeper starts etcd and stops it when its standard input ends.
const keeper = `folder=$1; shift; etcd "$@" >"$folder.log" 2>&1 & pid=$!; echo; cat >/dev/null; kill -9 $pid; wait $pid 2>/dev/null; rm -rf "$folder" "$folder.log"`

func startShared() error {
	folder, err := os.MkdirTemp(memory(), "gritward-etcd")
	if err != nil {
		return err
	}
	address := freeAddress()
	command := exec.Command("sh", append([]string{"-c", keeper, "sh", folder}, memberFlags(folder, "only", address, freeAddress())...)...)
	if shared.held, err = command.StdinPipe(); err != nil {
		return err
	}
	out, err := command.StdoutPipe()
	if err != nil {
		return err
	}
	if err := command.Start(); err != nil {
		return err
	}
	if _, err := bufio.NewReader(out).ReadString('\n'); err != nil {
		return err
	}
	shared.address, shared.folder = address, folder
	return ready([]string{address}, nil, folder+".log")
}

// memory is a folder in memory where there is one: tests that do not look at what a disk does need not wait for it.
func memory() string {
	if info, err := os.Stat("/dev/shm"); err == nil && info.IsDir() {
		return "/dev/shm"
	}
	return ""
}

// memberFlags are those of one member, which is alone unless more is said. It finds a leader in a fraction of a second.
func memberFlags(folder, name, client, peer string) []string {
	return []string{"--name", name, "--data-dir", folder, "--listen-client-urls", "http://" + client, "--advertise-client-urls", "http://" + client,
		"--listen-peer-urls", "http://" + peer, "--initial-advertise-peer-urls", "http://" + peer, "--initial-cluster", name + "=http://" + peer,
		"--heartbeat-interval", "20", "--election-timeout", "200", "--log-level", "error", "--logger", "zap", "--auto-compaction-retention", "0",
		"--listen-metrics-urls", "http://" + freeAddress()}
}

// freeAddress is an address on this machine that nobody listens on now.
func freeAddress() string { return freeAddressOf("127.0.0.1") }

func freeAddressOf(host string) string {
	listener, err := net.Listen("tcp", host+":0")
	if err != nil {
		panic(err)
	}
	defer func() { _ = listener.Close() }()
	return listener.Addr().String()
}

// Client is a bare client of a server.
func Client(t testing.TB, addresses ...string) *clientv3.Client {
	t.Helper()
	client, err := clientv3.New(clientv3.Config{Endpoints: addresses, Logger: zap.NewNop()})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = client.Close() })
	return client
}

// ready waits until the server at each address answers.
func ready(addresses []string, way *tls.Config, log string) error {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	for _, address := range addresses {
		client, err := clientv3.New(clientv3.Config{Endpoints: []string{address}, TLS: way, Logger: zap.NewNop()})
		if err != nil {
			return err
		}
		for {
			attempt, done := context.WithTimeout(ctx, time.Second)
			_, err = client.Get(attempt, "any")
			done()
			if err == nil || ctx.Err() != nil {
				break
			}
		}
		_ = client.Close()
		if err != nil {
			told, _ := os.ReadFile(log)
			return fmt.Errorf("etcd at %s does not answer: %w\n%s", address, err, strings.TrimSpace(string(told)))
		}
	}
	return nil
}
