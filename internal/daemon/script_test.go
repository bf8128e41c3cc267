package daemon_test

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"gritward/internal/cli"
	"gritward/internal/daemon"
)

// TestMain makes the server and the client commands of the scripts: processes of their own, as users have them.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"gritward": func() { os.Exit(cli.Main(context.Background(), os.Args[1:], cli.FromProcess())) },
		"gritwardd": func() {
			ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
			defer stop()
			os.Exit(daemon.Main(ctx, os.Args[1:], os.Stdout, os.Stderr))
		},
	})
}

// TestScripts plays server and client together, each a process. Scripts have a free port in $PORT, the shipped policy file in $POLICY, and the commands
// "serve ARGS", which starts gritwardd serve and waits until it listens, "interrupt", which interrupts it and keeps its log in the
// file serve.log, "device NAME", which goes on as a client with settings of its own, and "take NAME REGEXP", which keeps
// what the first group matches in the last output.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                filepath.Join("testdata", "script"),
		RequireUniqueNames: true,
		Setup: func(env *testscript.Env) error {
			listener, err := net.Listen("tcp", "127.0.0.1:0")
			if err != nil {
				return err
			}
			_, port, err := net.SplitHostPort(listener.Addr().String())
			env.Setenv("PORT", port)
			shipped, absErr := filepath.Abs(filepath.Join("..", "..", "policy", "winter.yaml"))
			if absErr != nil {
				return absErr
			}
			env.Setenv("POLICY", shipped)
			env.Setenv("HOME", env.WorkDir)
			env.Setenv("XDG_CONFIG_HOME", filepath.Join(env.WorkDir, "secretary"))
			running := &server{}
			env.Values[runningKey{}] = running
			env.Defer(func() { _ = running.stop() })
			if err != nil {
				return err
			}
			return listener.Close()
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"serve": func(ts *testscript.TestScript, _ bool, args []string) {
				ts.Check(ts.Value(runningKey{}).(*server).start(ts, args))
			},
			// Not "stop", which testscript has itself: it ends the script there, as passed.
			"interrupt": func(ts *testscript.TestScript, _ bool, _ []string) {
				running := ts.Value(runningKey{}).(*server)
				ts.Check(running.stop())
				ts.Check(os.WriteFile(ts.MkAbs("serve.log"), []byte(running.log.String()), 0o600))
			},
			"device": func(ts *testscript.TestScript, _ bool, args []string) {
				ts.Setenv("XDG_CONFIG_HOME", ts.MkAbs(args[0]))
			},
			"take": func(ts *testscript.TestScript, _ bool, args []string) {
				found := regexp.MustCompile(args[1]).FindStringSubmatch(ts.ReadFile("stdout"))
				if len(found) != 2 {
					ts.Fatalf("%s matches nothing in the last output", args[1])
				}
				ts.Setenv(args[0], found[1])
			},
		},
	})
}

type runningKey struct{}

// server is the one that a script runs.
type server struct {
	command *exec.Cmd
	log     strings.Builder
	out     io.ReadCloser
}

// start starts gritwardd serve and waits until it says that it listens.
func (s *server) start(ts *testscript.TestScript, args []string) (err error) {
	s.log.Reset()
	s.command = exec.Command("gritwardd", append([]string{"serve"}, args...)...)
	s.command.Dir, s.command.Stderr = ts.MkAbs("."), &s.log
	s.command.Env = append(os.Environ(), "HOME="+ts.Getenv("HOME"), "XDG_CONFIG_HOME="+ts.Getenv("XDG_CONFIG_HOME"))
	if s.out, err = s.command.StdoutPipe(); err != nil {
		return err
	}
	if err := s.command.Start(); err != nil {
		return err
	}
	first, err := bufio.NewReader(s.out).ReadString('\n')
	if err != nil || !strings.HasPrefix(first, "Serving ") {
		_ = s.command.Wait()
		s.command = nil
		return fmt.Errorf("the server did not start: %q, %s", first, s.log.String())
	}
	return nil
}

// stop interrupts the server and waits for its end.
func (s *server) stop() error {
	if s.command == nil {
		return nil
	}
	if err := s.command.Process.Signal(os.Interrupt); err != nil {
		return err
	}
	_, _ = io.Copy(io.Discard, s.out)
	err := s.command.Wait()
	s.command = nil
	return err
}
