package daemon_test

import (
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

// listening is a listener of the test's own.
func listening(t *testing.T) *net.TCPListener {
	t.Helper()
	listener, err := net.ListenTCP("tcp", &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = listener.Close() })
	return listener
}

// TestManager hears what a service manager hears: that the server is ready, alive, started again, ready again, and stopping.
func TestManager(t *testing.T) {
	folder, err := os.MkdirTemp("", "gw") // the path of a socket may not be long
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(folder) })
	at := filepath.Join(folder, "notify")
	socket, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: at, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	defer socket.Close()
	heard := func(want string) []string {
		t.Helper()
		_ = socket.SetReadDeadline(time.Now().Add(time.Minute))
		message := make([]byte, 4096)
		for {
			n, err := socket.Read(message)
			if err != nil {
				t.Fatalf("%s was not heard: %v", want, err)
			}
			if lines := strings.Split(string(message[:n]), "\n"); slices.Contains(lines, want) {
				return lines
			}
		}
	}
	t.Setenv("NOTIFY_SOCKET", at)
	t.Setenv("WATCHDOG_USEC", "200000")
	data, _ := founded(t)
	server := start(t, "--data", data)
	heard("READY=1")
	heard("WATCHDOG=1")
	heard("WATCHDOG=1")
	if err := server.Process.Signal(syscall.SIGUSR2); err != nil {
		t.Fatal(err)
	}
	if lines := heard("RELOADING=1"); len(lines) != 2 || !strings.HasPrefix(lines[1], "MONOTONIC_USEC=") || lines[1] == "MONOTONIC_USEC=0" {
		t.Errorf("%q", lines)
	}
	heard("READY=1")
	heard("WATCHDOG=1")
	if err := server.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	heard("STOPPING=1")
}
