package wholefile_test

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"syscall"
	"testing"

	"gritward/internal/wholefile"
)

// TestWrite: new, over the old, for the owner alone, with nothing left beside it.
func TestWrite(t *testing.T) {
	path := filepath.Join(t.TempDir(), "made", "f.txt")
	for _, content := range []string{"first", "", "third and longer"} {
		if err := wholefile.CheckWritable(path); err != nil {
			t.Fatal(err)
		}
		if err := wholefile.Write(path, []byte(content)); err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile(path)
		if err != nil || string(got) != content {
			t.Errorf("read back %q, %v; want %q", got, err, content)
		}
	}
	for path, want := range map[string]fs.FileMode{path: 0o600, filepath.Dir(path): 0o700} {
		if info, err := os.Stat(path); err != nil || info.Mode().Perm() != want {
			t.Errorf("%s: mode %v, %v; want %o", path, info.Mode(), err, want)
		}
	}
	alone(t, path)
}

// TestCreate: of many that make a file at once one succeeds, and its content is the one that stays.
func TestCreate(t *testing.T) {
	path := filepath.Join(t.TempDir(), "f.txt")
	var made []string
	var mu sync.Mutex
	var all sync.WaitGroup
	for i := range 20 {
		all.Go(func() {
			content := fmt.Sprintf("from %d", i)
			err := wholefile.Create(path, []byte(content))
			mu.Lock()
			defer mu.Unlock()
			switch {
			case err == nil:
				made = append(made, content)
			case !errors.Is(err, fs.ErrExist):
				t.Error(err)
			}
		})
	}
	all.Wait()
	got, err := os.ReadFile(path)
	if err != nil || len(made) != 1 || string(got) != made[0] {
		t.Errorf("made %q; the file holds %q, %v", made, got, err)
	}
	alone(t, path)
}

// TestReplace: the one file is in the other's place, and gone from its own; nothing changes where there is none.
func TestReplace(t *testing.T) {
	path := filepath.Join(t.TempDir(), "f.txt")
	for path, content := range map[string]string{path: "old", path + ".next": "new"} {
		if err := wholefile.Write(path, []byte(content)); err != nil {
			t.Fatal(err)
		}
	}
	for range 2 {
		err := wholefile.Replace(path, path+".next")
		got, readErr := os.ReadFile(path)
		if readErr != nil || string(got) != "new" {
			t.Errorf("the file holds %q, %v", got, readErr)
		}
		if _, gone := os.Stat(path + ".next"); !errors.Is(gone, fs.ErrNotExist) || err != nil && !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%v, %v", gone, err)
		}
	}
	alone(t, path)
}

// TestFill: what fill writes is there whole; where it fails nothing is, and its error is given back.
func TestFill(t *testing.T) {
	path := filepath.Join(t.TempDir(), "f.txt")
	say := func(text string) func(*os.File) error {
		return func(file *os.File) error { _, err := file.WriteString(text); return err }
	}
	broken := errors.New("the other end is gone")
	if err := wholefile.Fill(path, say("first"), wholefile.New); err != nil {
		t.Fatal(err)
	}
	for name, err := range map[string]error{
		"over":       wholefile.Fill(path, func(file *os.File) error { return errors.Join(say("half")(file), broken) }, wholefile.Over),
		"new":        wholefile.Fill(path+"2", func(file *os.File) error { return errors.Join(say("half")(file), broken) }, wholefile.New),
		"not placed": wholefile.Fill(path, say("second"), func(string, string) error { return broken }),
	} {
		if !errors.Is(err, broken) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := wholefile.Fill(path, say("second"), wholefile.New); !errors.Is(err, fs.ErrExist) {
		t.Errorf("something is there: %v", err)
	}
	got, err := os.ReadFile(path)
	if err != nil || string(got) != "first" {
		t.Errorf("the file holds %q, %v", got, err)
	}
	alone(t, path)
	if err := wholefile.Fill(path, say("second"), wholefile.Over); err != nil {
		t.Error(err)
	}
	alone(t, path)
}

// TestNoLinks: on a file system without links a new file comes to be all the same, and takes nobody's place.
func TestNoLinks(t *testing.T) {
	folder := t.TempDir()
	path, temporary := filepath.Join(folder, "f.txt"), filepath.Join(folder, "t")
	noLinks := func(string, string) error { return &os.LinkError{Op: "link", Err: syscall.EPERM} } // as Linux says on vfat, by link(2)
	place := func() error { return wholefile.Linked(temporary, path, noLinks) }
	for _, there := range []bool{false, true} {
		if err := os.WriteFile(temporary, []byte("new"), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := place(); (err != nil) != there {
			t.Errorf("there: %t, %v", there, err)
		}
		if err := os.WriteFile(path, []byte("old"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if got, err := os.ReadFile(path); string(got) != "old" {
		t.Errorf("%q, %v", got, err)
	}
}

func TestRefused(t *testing.T) {
	blocked := filepath.Join(t.TempDir(), "f.txt")
	if err := os.WriteFile(blocked, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	below := filepath.Join(blocked, "g.txt")
	for name, err := range map[string]error{
		"write": wholefile.Write(below, nil), "create": wholefile.Create(below, nil), "check": wholefile.CheckWritable(below)} {
		if err == nil {
			t.Errorf("%s: wrote below a file", name)
		}
	}
	folder := t.TempDir()
	if err := wholefile.Write(folder, []byte("x")); err == nil {
		t.Error("wrote over a folder")
	}
}

// alone finds what was left beside a file.
func alone(t *testing.T, path string) {
	t.Helper()
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil || len(entries) != 1 {
		t.Errorf("beside it: %v, %v", entries, err)
	}
}
