package bolt_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"

	"gritward/internal/store"
	"gritward/internal/store/bolt"
)

// TestFullFileSystem has many write at once into a file system of 8 MiB of its own until nothing goes in any more: who was
// acknowledged is there, who was told of the disk is not or whole, and when there is room again all goes on. The file system is
// mounted in a namespace of a second process, which any user may have where the system lets them; where it does not, this fails,
// since nothing would be shown.
func TestFullFileSystem(t *testing.T) {
	folder := t.TempDir()
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), childEnv+"=fill-disk "+filepath.Join(folder, "outside.db"))
	child.SysProcAttr = &syscall.SysProcAttr{Cloneflags: syscall.CLONE_NEWNS}
	if os.Getuid() != 0 {
		child.SysProcAttr = &syscall.SysProcAttr{Cloneflags: syscall.CLONE_NEWUSER | syscall.CLONE_NEWNS,
			UidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getuid(), Size: 1}},
			GidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getgid(), Size: 1}}}
	}
	out, err := child.CombinedOutput()
	if err != nil || !strings.HasPrefix(string(out), "as it must") {
		t.Fatalf("%v: %s", err, out)
	}
	t.Log(string(out))
}

// fillDisk mounts a small file system beside a store, which it leaves alone, and fills it through a store in it.
func fillDisk(outside *bolt.Store) error {
	if err := outside.Close(); err != nil {
		return err
	}
	folder, err := os.MkdirTemp("", "full")
	if err != nil {
		return err
	}
	defer func() { _ = os.RemoveAll(folder) }()
	if err := errors.Join(syscall.Mount("", "/", "", syscall.MS_REC|syscall.MS_PRIVATE, ""),
		syscall.Mount("tmpfs", folder, "tmpfs", 0, "size=8m")); err != nil {
		return fmt.Errorf("a file system cannot be mounted: %w", err)
	}
	defer func() { _ = syscall.Unmount(folder, 0) }()
	path, ballast := filepath.Join(folder, "club.db"), filepath.Join(folder, "ballast")
	if err := os.WriteFile(ballast, make([]byte, 3<<20), 0o600); err != nil {
		return err
	}
	for round := range 5 {
		if err := fillOnce(path, round); err != nil {
			return fmt.Errorf("round %d: %w", round, err)
		}
	}
	if err := os.Remove(ballast); err != nil {
		return err
	}
	s, err := bolt.Open(bolt.Options{Path: path, Now: madeAt})
	if err != nil {
		return err
	}
	if err := errors.Join(put(s, "with room again", make([]byte, 1<<20)), s.Verify(context.Background(), nil), s.Close()); err != nil {
		return fmt.Errorf("with room again: %w", err)
	}
	fmt.Println("as it must")
	return nil
}

// fillOnce writes until nothing goes in any more, and holds what is there, in the store and when it is opened anew, against what
// was acknowledged.
func fillOnce(path string, round int) error {
	s, err := bolt.Open(bolt.Options{Path: path, Now: madeAt})
	if err != nil {
		return err
	}
	acknowledged, wrong := sync.Map{}, atomic.Pointer[error]{}
	var count atomic.Int64
	var group sync.WaitGroup
	value := bytes.Repeat([]byte("v"), 7000)
	for writer := range 12 {
		group.Go(func() {
			for i := 0; ; i++ {
				id := fmt.Sprintf("%d.%d.%d", round, writer, i)
				err := s.Update(context.Background(), "moor", func(tx store.Tx) error {
					return errors.Join(tx.Put("a"+id, value), tx.Put("z"+id, value))
				})
				switch {
				case err == nil:
					acknowledged.Store(id, true)
					count.Add(1)
					continue
				case !errors.Is(err, syscall.ENOSPC) || !strings.Contains(err.Error(), "look at the disk's space"):
					wrong.Store(&err)
				}
				return
			}
		})
	}
	group.Wait()
	if found := wrong.Load(); found != nil {
		return *found
	}
	if count.Load() == 0 && round == 0 {
		return errors.New("nothing was acknowledged: this shows nothing")
	}
	if err := wholePairs(s, &acknowledged); err != nil {
		return err
	}
	// What has no room in the file stays in the journal, and is served from there.
	if err := s.Close(); err != nil && !errors.Is(err, syscall.ENOSPC) {
		return err
	}
	again, err := bolt.Open(bolt.Options{Path: path, Now: madeAt, Suspect: true})
	if err != nil {
		return err
	}
	err = errors.Join(again.Verify(context.Background(), nil), wholePairs(again, &acknowledged))
	if closed := again.Close(); !errors.Is(closed, syscall.ENOSPC) {
		err = errors.Join(err, closed)
	}
	return err
}

// wholePairs holds that all that was acknowledged is there, and everything with its other half.
func wholePairs(s *bolt.Store, acknowledged *sync.Map) (err error) {
	viewErr := s.View(context.Background(), "moor", func(tx store.Tx) error {
		acknowledged.Range(func(id, _ any) bool {
			for _, key := range []string{"a" + id.(string), "z" + id.(string)} {
				if value, getErr := tx.Get(key); getErr != nil || len(value) != 7000 {
					err = fmt.Errorf("%s was acknowledged, and has %d bytes, %v", key, len(value), getErr)
				}
			}
			return err == nil
		})
		return tx.Scan("a", "", func(key string, _ []byte) (bool, error) {
			other, getErr := tx.Get("z" + key[1:])
			if other == nil {
				getErr = fmt.Errorf("%s is there by half: %v", key, getErr)
			}
			return getErr == nil, getErr
		})
	})
	return errors.Join(err, viewErr)
}
