//go:build grpcurl

package daemon_test

import (
	"bufio"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
)

// TestGrpcurlExamples runs every command of proto/README.md as it is written there, against the demo, with grpcurl in the PATH.
func TestGrpcurlExamples(t *testing.T) {
	root, err := filepath.Abs("../..")
	if err != nil {
		t.Fatal(err)
	}
	guide, err := os.ReadFile(filepath.Join(root, "proto", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	address, token := demoServer(t)
	want := map[string][]string{ // what the answer to a command that has this in it must tell
		" list":                  {"gritward.v1.RideService", "grpc.health.v1.Health"},
		".RideService.ListRides": {"rpc ListRides"},
		".ListRidesRequest":      {"string parent"},
		"Health/Check":           {"SERVING"},
		"/WhoAmI":                {"x-request-id: try-1", "gritward-version: ", "Osric Penhale"},
		"/ListRides":             {"clubs/marrowdale/rides/"},
		"protogen":               nil,
		"/ListMembers":           {"Imke Vard"},
	}
	ran := 0
	for _, block := range regexp.MustCompile("(?s)```\n(.*?)```").FindAllStringSubmatch(string(guide), -1) {
		for command := range strings.Lines(block[1]) {
			command = strings.TrimSpace(command)
			if strings.HasPrefix(command, "export ") {
				continue // the demo's own are exported
			}
			run := exec.Command("bash", "-c", command)
			run.Dir = root
			run.Env = append(os.Environ(), "ADDRESS="+address, "TOKEN="+token)
			said, err := run.CombinedOutput()
			if err != nil {
				t.Errorf("%s: %v: %s", command, err, said)
			}
			known := false
			for part, words := range want {
				if !strings.Contains(command, part) {
					continue
				}
				known = true
				for _, word := range words {
					if !strings.Contains(string(said), word) {
						t.Errorf("%s does not tell %q: %.2000s", command, word, said)
					}
				}
			}
			if !known {
				t.Errorf("say here what %s must tell", command)
			}
			ran++
		}
	}
	_ = os.Remove(filepath.Join(root, "gritward.binpb"))
	if ran < 8 {
		t.Errorf("%d commands were run", ran)
	}
}

// demoServer runs the demo until the test ends, and gives its address and the token of the ride leader.
func demoServer(t *testing.T) (address, token string) {
	t.Helper()
	demo := exec.Command("gritwardd", "demo")
	demo.Env = append(os.Environ(), "HOME="+t.TempDir(), "TMPDIR="+t.TempDir())
	out, err := demo.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := demo.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = demo.Process.Signal(syscall.SIGTERM); _ = demo.Wait() })
	file := ""
	scanner := bufio.NewScanner(out)
	for scanner.Scan() && !strings.Contains(scanner.Text(), "Serving until") {
		if found := regexp.MustCompile(`--settings (\S+/leader\.yaml)`).FindStringSubmatch(scanner.Text()); found != nil {
			file = found[1]
		}
	}
	content, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("the demo names no settings of the leader: %v", err)
	}
	for line := range strings.Lines(string(content)) {
		switch key, value, _ := strings.Cut(strings.TrimSpace(line), ": "); key {
		case "server":
			address = strings.Trim(value, `"'`)
		case "token":
			token = strings.Trim(value, `"'`)
		}
	}
	return address, token
}
