package bolt_test

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"gritward/internal/store"
	"gritward/internal/store/bolt"
)

// childEnv names what a second process of this test binary does, and the file that it does it to.
const childEnv = "STORE_TEST_CHILD"

// TestMain turns the second process into what the test asked for.
func TestMain(m *testing.M) {
	job, path, isChild := strings.Cut(os.Getenv(childEnv), " ")
	if !isChild {
		os.Exit(m.Run())
	}
	if job == "dies-migrating" {
		fmt.Fprintln(os.Stderr, diesMigrating(path))
		os.Exit(1)
	}
	s, err := bolt.Open(bolt.Options{Path: path, Now: madeAt})
	if err == nil {
		err = map[string]func(*bolt.Store) error{"hold": hold, "count": count, "fill": fill, "fill-disk": fillDisk, "scrub-before": dieBefore, "scrub-after": dieAfter}[job](s)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// hold keeps the store open until its input ends.
func hold(s *bolt.Store) error {
	fmt.Println("held")
	_, err := io.Copy(io.Discard, os.Stdin)
	return errors.Join(err, s.Close())
}

// count writes numbers for ever, and says of each that it is written once Update says so.
func count(s *bolt.Store) error {
	for i := 0; ; i++ {
		if err := put(s, fmt.Sprintf("n%06d", i), []byte(strings.Repeat("v", 700))); err != nil {
			return err
		}
		fmt.Println(i)
	}
}

// child is a second process.
type child struct {
	*exec.Cmd
	in   io.WriteCloser
	said *bufio.Scanner
}

// start starts a second process and waits for the first line that it says.
func start(t *testing.T, job, path string) *child {
	t.Helper()
	c := &child{Cmd: exec.Command(os.Args[0])}
	c.Env = append(os.Environ(), childEnv+"="+job+" "+path)
	c.Stderr = os.Stderr
	in, inErr := c.StdinPipe()
	out, outErr := c.StdoutPipe()
	if err := errors.Join(inErr, outErr, c.Start()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Process.Kill(); _ = c.Wait() })
	c.in, c.said = in, bufio.NewScanner(out)
	if !c.said.Scan() {
		t.Fatalf("the second process (%s) said nothing", job)
	}
	return c
}

func TestLockedByAnotherProcess(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "club.db")
	holder := start(t, "hold", path)
	t.Run("refused", func(t *testing.T) {
		for name, row := range map[string]struct{ timeout, waited time.Duration }{
			"as asked":       {120 * time.Millisecond, 120 * time.Millisecond},
			"by default":     {0, 3 * time.Second},
			"below zero too": {-time.Second, 3 * time.Second},
		} {
			t.Run(name, func(t *testing.T) {
				t.Parallel()
				_, err := bolt.Open(bolt.Options{Path: path, LockTimeout: row.timeout, Now: madeAt})
				var locked *store.LockedError
				if !errors.As(err, &locked) || *locked != (store.LockedError{Path: path, Waited: row.waited}) {
					t.Fatalf("%v (%+v), want a LockedError after %v", err, locked, row.waited)
				}
			})
		}
	})
	// Who waits long enough gets it when the other lets go.
	got := make(chan error)
	go func() {
		s, err := bolt.Open(bolt.Options{Path: path, LockTimeout: time.Minute, Now: madeAt})
		if err == nil {
			err = errors.Join(put(s, "a", nil), s.Close())
		}
		got <- err
	}()
	if err := errors.Join(holder.in.Close(), <-got, holder.Wait()); err != nil {
		t.Error(err)
	}
}

// TestKilledWhileWriting kills a process in the middle of its work: all that was acknowledged is there, and the file is
// sound. (That it outlives a loss of power too rests on bbolt's fdatasync, which no test here can show.)
func TestKilledWhileWriting(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	for _, lines := range []int{1, 20, 57} {
		writer := start(t, "count", path)
		for range lines {
			writer.said.Scan()
		}
		if err := writer.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		last := writer.said.Text()
		for writer.said.Scan() { // what it had said by then
			last = writer.said.Text()
		}
		_ = writer.Wait() // "signal: killed"
		acknowledged, err := strconv.Atoi(last)
		if err != nil || acknowledged < lines {
			t.Fatalf("acknowledged %q, %v", last, err)
		}
		s := opened(t, path)
		for i := range acknowledged + 1 {
			if value, err := get(s, fmt.Sprintf("n%06d", i)); err != nil || len(value) != 700 {
				t.Errorf("number %d of %d: %d bytes, %v", i, acknowledged, len(value), err)
			}
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		checkFile(t, path)
	}
}
