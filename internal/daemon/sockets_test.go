package daemon_test

import (
	"fmt"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// TestRestartElsewhere: an address that was changed in the settings is taken at the next start again; one that cannot be had leaves
// the server where it was, and doctor and log say so.
func TestRestartElsewhere(t *testing.T) {
	data, _ := founded(t)
	file := filepath.Join(t.TempDir(), "server.yaml")
	set := func(address string) {
		t.Helper()
		if err := os.WriteFile(file, []byte(fmt.Sprintf("data: %s\noperator_listen: %s\n", data, address)), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	set("127.0.0.1:0")
	server := start(t, "--settings", file)
	first := server.says(t, `Operator: http://(\S+)/`)
	again := func(address string) string {
		t.Helper()
		set(address)
		if err := server.Process.Signal(syscall.SIGUSR2); err != nil {
			t.Fatal(err)
		}
		return server.says(t, `Operator: http://(\S+)/`)
	}
	answers := func(address string) bool {
		t.Helper()
		answer, err := http.Get("http://" + address + "/metrics")
		if err == nil {
			_ = answer.Body.Close()
		}
		return err == nil
	}
	if got := again("127.0.0.1:0"); got != first {
		t.Errorf("any port will do, and it went from %s to %s", first, got)
	}
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	if got := again(taken.Addr().String()); got != first || !answers(first) || !strings.Contains(server.log.String(), "it stays where it was") {
		t.Errorf("listens on %s, where another program does: %s", got, server.log)
	}
	if _, out, _ := run(t, "doctor", "--settings", file); !strings.Contains(out, taken.Addr().String()+" is in use by another program") {
		t.Errorf("the doctor does not see it: %s", out)
	}
	second := taken.Addr().String()
	if err := taken.Close(); err != nil {
		t.Fatal(err)
	}
	if _, out, _ := run(t, "doctor", "--settings", file); !strings.Contains(out, "the settings have "+second+", and the running server listens on "+first) {
		t.Errorf("the doctor does not see it: %s", out)
	}
	if got := again(second); got != second || !answers(second) || answers(first) {
		t.Errorf("listens on %s, and not on %s: %s", got, second, server.log)
	}
	every := "127.0.0.2" + second[strings.LastIndexByte(second, ':'):]
	if got := again(every); got != every || !answers(every) || answers(second) {
		t.Errorf("listens on %s, and not on %s: %s", got, every, server.log)
	}
}
