// Package wholefile writes files whole or not at all: a reader sees the file before or the file after, also when the
// power fails in between. What it writes is readable by its owner alone (mode 0600, folders 0700).
package wholefile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Write puts a file in place of what was there.
func Write(path string, content []byte) error { return Fill(path, holding(path, content), Over) }

// Create makes a file that is not there yet. Of several that try at once one makes it, and the others are given an error
// that is fs.ErrExist.
func Create(path string, content []byte) error { return Fill(path, holding(path, content), New) }

// Place puts a file that is written beside another path, and down to the disk, there.
type Place = func(temporary, path string) error

// Over takes the place of what is there.
func Over(temporary, path string) error { return os.Rename(temporary, path) }

// New takes nobody's place: its error is fs.ErrExist where something is there.
func New(temporary, path string) error { return linked(temporary, path, os.Link) }

// linked links, which takes nobody's place, unlike renaming. Some file systems, such as those of memory sticks, know no links:
// there a file that comes to be in the very moment is written over.
func linked(temporary, path string, link func(from, to string) error) error {
	err := link(temporary, path)
	if err == nil || errors.Is(err, fs.ErrExist) {
		return errors.Join(err, os.Remove(temporary))
	}
	if _, there := os.Lstat(path); errors.Is(there, fs.ErrNotExist) && (errors.Is(err, fs.ErrPermission) || errors.Is(err, errors.ErrUnsupported)) {
		return os.Rename(temporary, path)
	}
	return err
}

// Fill has fill write a file, beside the path, and puts it in place when it is down on the disk. An error of fill is given back as
// it is, and nothing stays.
func Fill(path string, fill func(*os.File) error, place Place) error {
	file, err := beside(path)
	if err != nil {
		return err
	}
	if err = fill(file); err != nil {
		_ = file.Close()
		_ = os.Remove(file.Name()) // nothing more can be done about it
		return err
	}
	if err = errors.Join(file.Sync(), file.Close()); err == nil {
		err = place(file.Name(), path)
	}
	if err != nil {
		_ = os.Remove(file.Name())
		if !errors.Is(err, fs.ErrExist) {
			err = fmt.Errorf("cannot write %s: %w", path, err)
		}
		return err
	}
	settle(filepath.Dir(path))
	return nil
}

func holding(path string, content []byte) func(*os.File) error {
	return func(file *os.File) error {
		if _, err := file.Write(content); err != nil {
			return fmt.Errorf("cannot write %s: %w", path, err)
		}
		return nil
	}
}

// Replace puts a file that is there already, in the same folder, in place of another one.
func Replace(path, with string) error {
	if err := os.Rename(with, path); err != nil {
		return err
	}
	settle(filepath.Dir(path))
	return nil
}

// CheckWritable finds out whether Write could write to path, before something is done that cannot be repeated.
func CheckWritable(path string) error {
	file, err := beside(path)
	if err != nil {
		return err
	}
	return errors.Join(file.Close(), os.Remove(file.Name()))
}

func beside(path string) (*os.File, error) {
	folder := filepath.Dir(path)
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return nil, fmt.Errorf("cannot make the folder %s: %w", folder, err)
	}
	file, err := os.CreateTemp(folder, ".gritward-*") // made with mode 0600
	if err != nil {
		return nil, fmt.Errorf("cannot write to the folder %s: %w", folder, err)
	}
	return file, nil
}

// settle makes sure that a folder's entries are on the disk, where the system can: some cannot open folders.
func settle(folder string) {
	if opened, err := os.Open(folder); err == nil {
		_ = opened.Sync()
		_ = opened.Close()
	}
}
