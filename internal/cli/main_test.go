package cli_test

import (
	"bytes"
	"errors"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gritward/internal/cli"
	"gritward/internal/demo"
)

// result is what one command line did.
type result struct {
	code     int
	out, err string
}

// run runs the client in this process, away from the tester's own settings.
func run(t *testing.T, in string, args ...string) result {
	t.Helper()
	var out, err bytes.Buffer
	code := cli.Main(t.Context(), args, cli.IO{In: strings.NewReader(in), Out: &out, Err: &err, Now: time.Now})
	return result{code, out.String(), err.String()}
}

// alone gives the test a home of its own and no GRITWARD_ variables but those given as name, value.
func alone(t *testing.T, pairs ...string) {
	t.Helper()
	home := t.TempDir()
	t.Setenv("HOME", home)
	t.Setenv("XDG_CONFIG_HOME", filepath.Join(home, "config"))
	for _, name := range []string{"GRITWARD_SERVER", "GRITWARD_TOKEN", "GRITWARD_CA_FILE", "GRITWARD_SERVER_PINS"} {
		t.Setenv(name, "")
	}
	for i := 0; i+1 < len(pairs); i += 2 {
		t.Setenv(pairs[i], pairs[i+1])
	}
}

func TestExitCodes(t *testing.T) {
	tests := []struct {
		name string
		args []string
		want int
	}{
		{"nothing", nil, cli.ExitOK},
		{"help", []string{"ride", "join", "--help"}, cli.ExitOK},
		{"unknown command", []string{"nonsense"}, cli.ExitUsage},
		{"unknown command of a group", []string{"ride", "nonsense"}, cli.ExitUsage},
		{"unknown flag", []string{"whoami", "--nonsense"}, cli.ExitUsage},
		{"missing argument", []string{"bike", "show"}, cli.ExitUsage},
		{"missing flag", []string{"sun", "--at", "1,1"}, cli.ExitUsage},
		{"value of a flag", []string{"sun", "--at", "x", "--date", "2026-12-13", "--zone", "UTC"}, cli.ExitUsage},
		{"not signed in", []string{"whoami"}, cli.ExitFailed},
		{"no such file", []string{"route", "/nowhere.gpx"}, cli.ExitFailed},
		{"no such settings", []string{"whoami", "--settings", "/nowhere.yaml"}, cli.ExitFailed},
		{"a folder", []string{"policy", "check", "."}, cli.ExitFailed},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			alone(t)
			got := run(t, "", test.args...)
			if got.code != test.want {
				t.Errorf("exit code %d, want %d; standard error: %s", got.code, test.want, got.err)
			}
			if (got.code == cli.ExitOK) != (got.err == "") {
				t.Errorf("exit code %d with standard error %q", got.code, got.err)
			}
		})
	}
}

// brokenWriter is a pipe whose reader went away.
type brokenWriter struct{}

func (brokenWriter) Write([]byte) (int, error) { return 0, errors.New("broken pipe") }

func TestOutputFails(t *testing.T) {
	alone(t)
	for _, args := range [][]string{{"bike", "example"}, {"bike", "example", "--json"},
		{"sun", "--at", "1,1", "--date", "2026-12-13", "--zone", "UTC"}} {
		var err bytes.Buffer
		code := cli.Main(t.Context(), args, cli.IO{In: strings.NewReader(""), Out: brokenWriter{}, Err: &err, Now: time.Now})
		if code != cli.ExitFailed || !strings.Contains(err.String(), "broken pipe") {
			t.Errorf("%v: exit code %d, %q", args, code, err.String())
		}
	}
}

func TestHugeFile(t *testing.T) {
	alone(t)
	path := filepath.Join(t.TempDir(), "huge.yaml")
	writeTest(t, path, strings.Repeat("# a line of a comment\n", 60_000))
	for _, args := range [][]string{{"policy", "check", path}, {"policy", "check", "-"}} {
		got := run(t, strings.Repeat("x", 2<<20), args...)
		if got.code != cli.ExitFailed || !strings.Contains(got.err, "is larger than 1 MiB") {
			t.Errorf("%v: exit code %d, %q", args, got.code, got.err)
		}
	}
}

// TestColour: colour only on a terminal, and not where it is unwanted.
func TestColour(t *testing.T) {
	tests := []struct {
		name               string
		terminal, noColour bool
		flag               string
		want               bool
	}{
		{"a terminal", true, false, "--no-colour=false", true},
		{"a pipe", false, false, "--no-colour=false", false},
		{"NO_COLOR", true, true, "--no-colour=false", false},
		{"the flag", true, false, "--no-colour", false},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			alone(t)
			route := filepath.Join(t.TempDir(), "r.gpx")
			writeTest(t, route, string(demo.Route))
			var out bytes.Buffer
			code := cli.Main(t.Context(), []string{"route", route, test.flag}, cli.IO{In: strings.NewReader(""), Out: &out,
				Err: &out, Now: time.Now, OutTerminal: test.terminal, NoColour: test.noColour})
			if got := strings.Contains(out.String(), "\x1b["); code != cli.ExitOK || got != test.want {
				t.Errorf("exit code %d, colour %v, want %v", code, got, test.want)
			}
		})
	}
}

func TestUsageErrorIsClean(t *testing.T) {
	alone(t)
	got := run(t, "", "ride", "\x1b[31mred\x07")
	if strings.ContainsAny(got.err, "\x1b\x07") {
		t.Errorf("control characters reach the terminal: %q", got.err)
	}
}
