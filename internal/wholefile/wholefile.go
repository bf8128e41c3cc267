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
func Write(path string, content []byte) error {
	return write(path, content, os.Rename)
}

// Create makes a file that is not there yet. Of several that try at once one makes it, and the others are given an error
// that is fs.ErrExist.
func Create(path string, content []byte) error {
	return write(path, content, func(temporary, path string) error {
		return errors.Join(os.Link(temporary, path), os.Remove(temporary)) // unlike renaming, linking takes nobody's place
	})
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

// write writes beside the file, makes sure that it is on the disk, and puts it in place.
func write(path string, content []byte, place func(temporary, path string) error) (err error) {
	file, err := beside(path)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			if !errors.Is(err, fs.ErrExist) {
				err = fmt.Errorf("cannot write %s: %w", path, err)
			}
			_ = file.Close()           // closed already unless writing failed
			_ = os.Remove(file.Name()) // nothing more can be done about it
		}
	}()
	if _, err = file.Write(content); err != nil {
		return err
	}
	if err = file.Sync(); err != nil {
		return err
	}
	if err = file.Close(); err != nil {
		return err
	}
	if err = place(file.Name(), path); err != nil {
		return err
	}
	settle(filepath.Dir(path))
	return nil
}

// settle makes sure that a folder's entries are on the disk, where the system can: some cannot open folders.
func settle(folder string) {
	if opened, err := os.Open(folder); err == nil {
		_ = opened.Sync()
		_ = opened.Close()
	}
}
