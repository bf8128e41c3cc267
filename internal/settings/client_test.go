package settings_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/pflag"

	"gritward/internal/settings"
)

// alone keeps the tester's own settings out: no GRITWARD_ variable, and an empty home.
func alone(t *testing.T) {
	t.Helper()
	for _, pair := range os.Environ() {
		if name, _, _ := strings.Cut(pair, "="); strings.HasPrefix(name, "GRITWARD_") {
			t.Setenv(name, "")
		}
	}
	home := t.TempDir()
	t.Setenv("HOME", home)
	t.Setenv("XDG_CONFIG_HOME", filepath.Join(home, "config"))
	t.Setenv("XDG_STATE_HOME", "")
	t.Setenv("STATE_DIRECTORY", "")
}

func write(t *testing.T, content string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "s.yaml")
	if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func clientFlags(t *testing.T, args ...string) *pflag.FlagSet {
	t.Helper()
	flags := pflag.NewFlagSet("t", pflag.ContinueOnError)
	settings.ClientFlags(flags)
	if err := flags.Parse(args); err != nil {
		t.Fatal(err)
	}
	return flags
}

func TestClientOrder(t *testing.T) {
	alone(t)
	path := write(t, "server: file.example:1\n")
	load := func(src settings.Source) string {
		t.Helper()
		c, err := settings.LoadClient(src)
		if err != nil {
			t.Fatal(err)
		}
		return c.Server
	}
	if got := load(settings.Source{}); got != "127.0.0.1:7347" {
		t.Errorf("default: %s", got)
	}
	if got := load(settings.Source{File: path}); got != "file.example:1" {
		t.Errorf("file over default: %s", got)
	}
	t.Setenv("GRITWARD_SERVER", "env.example:2")
	if got := load(settings.Source{File: path}); got != "env.example:2" {
		t.Errorf("environment over file: %s", got)
	}
	if got := load(settings.Source{File: path, Flags: clientFlags(t)}); got != "env.example:2" {
		t.Errorf("a flag that was not given counts: %s", got)
	}
	if got := load(settings.Source{File: path, Flags: clientFlags(t, "--server", "flag.example:3")}); got != "flag.example:3" {
		t.Errorf("flag over environment: %s", got)
	}
}

func TestClientProblems(t *testing.T) {
	tests := []struct{ name, file, want string }{
		{"near key", "servr: a:1\n", `s.yaml:1:1: "servr" is not known; did you mean "server"?`},
		{"far key", "colour: red\n", `"colour" is not known; the keys are ca_file, server, server_pins, token`},
		{"every problem", "servr: a:1\ntokn: x\n", `s.yaml:2:1: "tokn" is not known`},
		{"twice", "server: a:1\nserver: b:1\n", "s.yaml:2:1: server stands here twice, first at "},
		{"list", "server: [a]\n", "server must be one plain value"},
		{"null", "server:\n", "server has no value"},
		{"second document", "server: a:1\n---\nserver: b:1\n", "multiple"},
		{"not a mapping", "- a\n", "must hold lines of the form key: value"},
		{"bare token", "club.SECRETSECRET\n", "must hold lines of the form key: value"},
		{"syntax", "server: a: b\n", "s.yaml:1:"},
		{"tab", "server:\n\t- a\n", "s.yaml:2:"},
		{"control characters", "server: \x00\n", "control characters"},
		{"truncated UTF-16", "\xff\xfe\x00", "UTF-16"},
		{"not UTF-8", "server: \xe9\n", "UTF-8"},
		{"huge", strings.Repeat("# x\n", 20000), "larger than"},
		{"alias", "server: &x a:1\ntoken: *x\n", "token must be one plain value"},
		{"no port", "server: example\n", "s.yaml:1:1: must be host:port"},
		{"port word", "server: example:http\n", "port must be a number"},
		{"no host", "server: \":1\"\n", "names no host"},
		{"token", "token: SECRETSECRET\n", "is not a token"},
		{"pin cut short", "server_pins: " + pinA[1:] + "\n", "s.yaml:1:1: a pin has 43 letters, digits, - and _: it was cut short or changed on the way: ask the secretary for a new invite"},
		{"three pins", "server_pins: " + pinA + "," + pinB + "," + pinA + "\n", "s.yaml:1:1: there are more than two pins"},
		{"ca", "ca_file: /nowhere/ca.pem\n", "/nowhere/ca.pem cannot be read"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			alone(t)
			_, err := settings.LoadClient(settings.Source{File: write(t, test.file)})
			if err == nil || !strings.Contains(err.Error(), test.want) {
				t.Fatalf("got %v\nwant %q in it", err, test.want)
			}
			if strings.Contains(err.Error(), "SECRETSECRET") {
				t.Errorf("the token is told: %v", err)
			}
		})
	}
}

func TestClientFileMissing(t *testing.T) {
	alone(t)
	if _, err := settings.LoadClient(settings.Source{File: "/nowhere/s.yaml"}); err == nil ||
		!strings.Contains(err.Error(), "/nowhere/s.yaml: cannot be read") {
		t.Errorf("a named file that is not there: %v", err)
	}
	for name, content := range map[string]string{"empty": "", "comment": "# nothing yet\n"} {
		if _, err := settings.LoadClient(settings.Source{File: write(t, content)}); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestProblemNamesItsPlace(t *testing.T) {
	alone(t)
	t.Setenv("GRITWARD_SERVER", "nonsense")
	if _, err := settings.LoadClient(settings.Source{}); err == nil || !strings.HasPrefix(err.Error(), "GRITWARD_SERVER: ") {
		t.Errorf("environment: %v", err)
	}
	flags := clientFlags(t, "--server", "nonsense")
	if _, err := settings.LoadClient(settings.Source{Flags: flags}); err == nil || !strings.HasPrefix(err.Error(), "--server: ") {
		t.Errorf("flag: %v", err)
	}
}

func TestSaveClient(t *testing.T) {
	alone(t)
	want := settings.Client{Server: "rides.example:7347", ServerPins: pinA + "," + pinB, Token: `north.AB: "C #1`}
	path := settings.ClientFile()
	for range 2 { // once new, once over the old
		if err := settings.CheckWritable(path); err != nil {
			t.Fatal(err)
		}
		if err := settings.SaveClient(path, want); err != nil {
			t.Fatal(err)
		}
	}
	info, err := os.Stat(path)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v; want 0600", info.Mode(), err)
	}
	got, err := settings.LoadClient(settings.Source{})
	if err != nil || got != want {
		t.Errorf("read back: %v, want %v, %v", got, want, err)
	}
	if got.Club() != "north" {
		t.Errorf("club %q", got.Club())
	}
	left, err := os.ReadDir(filepath.Dir(path))
	if err != nil || len(left) != 1 {
		t.Errorf("left beside it: %v, %v", left, err)
	}
	if err := os.Chmod(path, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := settings.LoadClient(settings.Source{}); err == nil || !strings.Contains(err.Error(), "chmod 600") {
		t.Errorf("a file open to others: %v", err)
	}
}

func TestSaveClientRefused(t *testing.T) {
	blocked := write(t, "a file, not a folder")
	if err := settings.SaveClient(filepath.Join(blocked, "client.yaml"), settings.Client{}); err == nil {
		t.Error("wrote below a file")
	}
	if err := settings.CheckWritable(""); err == nil || !strings.Contains(err.Error(), "--settings") {
		t.Errorf("no folder: %v", err)
	}
}

func TestSecretHides(t *testing.T) {
	secret := settings.Secret("north.TOPSECRET")
	var b bytes.Buffer
	log := slog.New(slog.NewJSONHandler(&b, nil))
	log.Info("x", "token", secret, "client", settings.Client{Token: secret})
	slog.New(slog.NewTextHandler(&b, nil)).Info("x", "client", settings.Client{Token: secret})
	encoded, err := json.Marshal(settings.Client{Token: secret})
	if err != nil {
		t.Fatal(err)
	}
	b.Write(encoded)
	fmt.Fprintf(&b, "%v %+v %#v %s %q", secret, settings.Client{Token: secret}, settings.Client{Token: secret}, secret, secret)
	if strings.Contains(b.String(), "TOPSECRET") {
		t.Errorf("told: %s", b.String())
	}
	if !strings.Contains(b.String(), "(hidden)") {
		t.Errorf("not even marked: %s", b.String())
	}
}

func TestPlain(t *testing.T) {
	for server, want := range map[string]bool{
		"127.0.0.1:7347": true, "127.8.9.1:1": true, "[::1]:7347": true, "localhost:7347": true,
		"10.0.0.1:7347": false, "0.0.0.0:7347": false, ":7347": false, "[::]:1": false,
		"localhost.example:7347": false, "127.0.0.1.example:7347": false, "nonsense": false,
	} {
		if got := (settings.Client{Server: server}).Plain(); got != want {
			t.Errorf("%s: plain %v, want %v", server, got, want)
		}
	}
	if (settings.Client{Server: "127.0.0.1:7347", CAFile: "ca.pem"}).Plain() {
		t.Error("certificates are named, so TLS is wanted")
	}
	if (settings.Client{Server: "127.0.0.1:7347", ServerPins: pinA}).Plain() {
		t.Error("a pin is kept, so TLS is wanted")
	}
}

func FuzzClientFile(f *testing.F) {
	for _, seed := range []string{"server: a:1\n", "token: a.b", "a: &b [*b]", "? [x]\n: y", "---\n---", "\xff\xfe", "server: !!binary aGk="} {
		f.Add(seed)
	}
	folder := f.TempDir()
	f.Fuzz(func(t *testing.T, content string) {
		path := filepath.Join(folder, "s.yaml")
		if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
		c, err := settings.LoadClient(settings.Source{File: path})
		if err == nil && c.Server == "" {
			t.Errorf("taken without a server: %q", content)
		}
	})
}
