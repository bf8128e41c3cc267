package vitals_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"gritward/internal/vitals"
)

const mountEnv = "GRITWARD_TEST_MOUNT"

// TestMain is a second process where TestDisk asks for one: it mounts a small file system in a namespace of its own and looks at it.
func TestMain(m *testing.M) {
	folder, asked := os.LookupEnv(mountEnv)
	if !asked {
		os.Exit(m.Run())
	}
	how, folder, _ := strings.Cut(folder, " ")
	flags := map[string]uintptr{"ro": syscall.MS_RDONLY}[how]
	for _, err := range []error{syscall.Mount("", "/", "", syscall.MS_REC|syscall.MS_PRIVATE, ""), syscall.Mount("tmpfs", folder, "tmpfs", flags, "size="+map[string]string{"ro": "900m", "8m": "8m", "100m": "100m"}[how])} {
		if err != nil {
			fmt.Println("cannot mount:", err)
			os.Exit(1)
		}
	}
	vitals.Sum([]vitals.Finding{vitals.Disk(filepath.Join(folder, "club.db"))}).Write(os.Stdout)
}

// TestDisk looks at real file systems: a read-only one, a full one, one that is soon full.
func TestDisk(t *testing.T) {
	for how, want := range map[string]string{"ro": "failing disk: the file system of", "8m": "failing disk: 8.0 MiB free", "100m": "warning disk: 100.0 MiB free"} {
		child := exec.Command(os.Args[0])
		child.Env = append(os.Environ(), mountEnv+"="+how+" "+t.TempDir())
		child.SysProcAttr = &syscall.SysProcAttr{Cloneflags: syscall.CLONE_NEWNS}
		if os.Getuid() != 0 {
			child.SysProcAttr = &syscall.SysProcAttr{Cloneflags: syscall.CLONE_NEWUSER | syscall.CLONE_NEWNS,
				UidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getuid(), Size: 1}},
				GidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getgid(), Size: 1}}}
		}
		if out, err := child.CombinedOutput(); err != nil || !strings.Contains(string(out), want) || !strings.Contains(string(out), "next: ") {
			t.Errorf("%s: %v: %s", how, err, out)
		}
	}
	if f := vitals.Disk(filepath.Join(t.TempDir(), "none", "club.db")); f.State != vitals.Warning || !strings.Contains(f.Found, "is not there") {
		t.Errorf("%+v", f)
	}
}
