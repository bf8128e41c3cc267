package cli_test

import (
	"net"
	"strings"
	"testing"

	"gritward/internal/cli"
)

// TestSeveralServers names two servers of which the first does not answer: it is gone, or takes connections and says nothing.
func TestSeveralServers(t *testing.T) {
	address, code := startServer(t)
	gone, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	if err := gone.Close(); err != nil {
		t.Fatal(err)
	}
	silent, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = silent.Close() })
	alone(t)
	if got := run(t, "", "accept", code, "--server", address); got.code != cli.ExitOK {
		t.Fatal(got.err)
	}
	for _, first := range []string{gone.Addr().String(), silent.Addr().String()} {
		got := run(t, "", "whoami", "--server", first+", "+address)
		if got.code != cli.ExitOK || !strings.Contains(got.out, "Imke Vard") {
			t.Errorf("%s first: exit code %d, %q, %s", first, got.code, got.out, got.err)
		}
	}
	got := run(t, "", "whoami", "--server", address+",nonsense")
	if got.code == cli.ExitOK || !strings.Contains(got.err, "must be host:port") {
		t.Errorf("exit code %d, %s", got.code, got.err)
	}
}
