package cli_test

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"gritward/internal/cli"
	"gritward/internal/demo"
	policyfile "gritward/policy"
)

// TestMain makes the client a command of the scripts: a process of its own, as users have it.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"gritward": func() { os.Exit(cli.Main(context.Background(), os.Args[1:], cli.FromProcess())) },
	})
}

// TestOffline runs the scripts that need no server. Nothing listens at the address that they are given.
func TestOffline(t *testing.T) {
	params := params("127.0.0.1:1", "")
	params.Dir = filepath.Join("testdata", "script", "offline")
	testscript.Run(t, params)
}

// TestOnline runs each script that needs a server against a server of its own, with a club just founded.
func TestOnline(t *testing.T) {
	scripts, err := filepath.Glob(filepath.Join("testdata", "script", "online", "*.txtar"))
	if err != nil || len(scripts) == 0 {
		t.Fatalf("no scripts: %v", err)
	}
	for _, script := range scripts {
		t.Run(strings.TrimSuffix(filepath.Base(script), ".txtar"), func(t *testing.T) {
			t.Parallel()
			address, code := startServer(t)
			params := params(address, code)
			params.Files = []string{script}
			testscript.Run(t, params)
		})
	}
}

// params gives a script its world: folders of its own, the server's address, the first secretary's code in $CODE, the
// shipped policy as winter.yaml, a small one as club.yaml, that one made stricter as next.yaml, an invented route as
// four-becks.gpx, an invented forecast as marrowdale.json. The command "take NAME REGEXP" keeps what the
// first group of the expression matches in the last output.
func params(address, code string) testscript.Params {
	return testscript.Params{
		RequireUniqueNames: true,
		Setup: func(env *testscript.Env) error {
			env.Setenv("HOME", env.WorkDir)
			env.Setenv("XDG_CONFIG_HOME", filepath.Join(env.WorkDir, "secretary"))
			env.Setenv("GRITWARD_SERVER", address)
			env.Setenv("CODE", code)
			club, err := os.ReadFile(filepath.Join("testdata", "club.yaml"))
			if err != nil {
				return err
			}
			forecast, err := os.ReadFile(filepath.Join("..", "..", "testdata", "forecast", "marrowdale.json"))
			if err != nil {
				return err
			}
			for name, content := range map[string][]byte{"marrowdale.json": forecast, "winter.yaml": policyfile.Winter, "club.yaml": club,
				"next.yaml": stricter(club), "four-becks.gpx": demo.Route} {
				if err := os.WriteFile(filepath.Join(env.WorkDir, name), content, 0o600); err != nil {
					return err
				}
			}
			return nil
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){"take": take},
	}
}

// stricter is a policy with another title, and with bikes without guards held instead of at the back.
func stricter(policy []byte) []byte {
	titled := bytes.Replace(policy, []byte("title: Club readiness"), []byte("title: Next club"), 1)
	guards := regexp.MustCompile(`(?s)(- id: guards\n.*?otherwise: )back`)
	return guards.ReplaceAll(titled, []byte("${1}hold"))
}

func take(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: take NAME REGEXP")
	}
	found := regexp.MustCompile(args[1]).FindStringSubmatch(ts.ReadFile("stdout"))
	if len(found) != 2 {
		ts.Fatalf("%s matches nothing in the last output", fmt.Sprint(args[1]))
	}
	ts.Setenv(args[0], found[1])
}
