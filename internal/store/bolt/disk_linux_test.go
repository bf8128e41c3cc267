package bolt_test

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"

	"gritward/internal/store/bolt"
)

// TestFullDisk runs, in a second process, into a limit on the size of files.
func TestFullDisk(t *testing.T) {
	path := filepath.Join(t.TempDir(), "club.db")
	if got := start(t, "fill", path).said.Text(); got != "as it must" {
		t.Error(got)
	}
	checkFile(t, path)
}

// fill writes until no more fits, and says whether the store then does as it must.
func fill(s *bolt.Store) error {
	signal.Ignore(syscall.SIGXFSZ)
	var old syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &old); err != nil {
		return err
	}
	small := old
	small.Cur = 3 << 20
	if err := errors.Join(put(s, "a", []byte("1")), syscall.Setrlimit(syscall.RLIMIT_FSIZE, &small)); err != nil {
		return err
	}
	full := put(s, "a", bytes.Repeat([]byte("2"), 4<<20))
	value, readErr := get(s, "a")
	if err := errors.Join(syscall.Setrlimit(syscall.RLIMIT_FSIZE, &old), put(s, "b", bytes.Repeat([]byte("3"), 4<<20)), s.Close()); err != nil {
		return fmt.Errorf("with room again: %w", err)
	}
	if full == nil || !strings.Contains(full.Error(), "look at the disk's space") || string(value) != "1" || readErr != nil {
		fmt.Printf("error %v; then a = %.20q, %v\n", full, value, readErr)
	} else {
		fmt.Println("as it must")
	}
	return nil
}

// TestForbidden opens as a user who may not. Rights are a thread's own: this one ends with the test.
func TestForbidden(t *testing.T) {
	folder := t.TempDir()
	locked := filepath.Join(folder, "club.db")
	if err := errors.Join(opened(t, locked).Close(), os.Chmod(locked, 0), os.Chmod(folder, 0o555)); err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		runtime.LockOSThread() // and never unlocked
		if os.Getuid() == 0 {
			const nobody = 65534
			if _, _, errno := syscall.RawSyscall(syscall.SYS_SETFSUID, nobody, 0, 0); errno != 0 {
				t.Error(errno)
			}
		}
		for _, path := range []string{locked, filepath.Join(folder, "new.db")} {
			refused(t, bolt.Options{Path: path, Now: madeAt}, path, "may not", "change its owner or rights")
		}
	}()
	<-done
	if err := os.Chmod(folder, 0o755); err != nil {
		t.Error(err)
	}
}
