package cli

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"gritward/internal/wholefile"
)

// Largest files, as the protocol has them.
const (
	maxRouteBytes  = 16 << 20
	maxPolicyBytes = 1 << 20
	maxForecast    = 1 << 20
)

// readFile reads a file of at most most bytes; "-" is standard input.
func (a *app) readFile(path string, most int64) ([]byte, error) {
	source := a.io.In
	if path != "-" {
		file, err := os.Open(path)
		if err != nil {
			return nil, fileError(path, err)
		}
		defer file.Close()
		source = file
	}
	done := a.progress("reading " + path)
	defer done()
	content, err := io.ReadAll(io.LimitReader(source, most+1))
	if err != nil {
		return nil, fileError(path, err)
	}
	if int64(len(content)) > most {
		return nil, fmt.Errorf("%s: is larger than %d MiB, which is the most that is taken", path, most>>20)
	}
	return content, nil
}

// readGPX reads a route file, to be sent.
func (a *app) readGPX(path string) ([]byte, error) {
	content, err := a.readFile(path, maxRouteBytes)
	if err == nil && len(content) == 0 {
		return nil, fmt.Errorf("%s: is empty\n  next: export the route again as a GPX track", path)
	}
	return content, err
}

// writes gives a command that writes files the flag by which it may write over them.
func (a *app) writes(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&a.overwrite, "overwrite", false, "write over a file that is there")
}

// writeFile writes a file that a command was asked for, whole or not at all. What is no file, as a pipe, is written into.
func (a *app) writeFile(path string, content []byte) error {
	if err := a.mayWrite(path); err != nil {
		return err
	}
	if there, err := os.Stat(path); err == nil && !there.Mode().IsRegular() {
		return fileError(path, os.WriteFile(path, content, 0o600))
	}
	return wholefile.Write(path, content)
}

// mayWrite finds what keeps a file from being written: no folder, or another file, unless that may be written over.
func (a *app) mayWrite(path string) error {
	if _, err := os.Stat(filepath.Dir(path)); err != nil {
		return fileError(path, err)
	}
	there, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return fileError(path, err)
	case there.IsDir():
		return fmt.Errorf("%s: is a folder\n  next: name a file in it", path)
	case !a.overwrite:
		return fmt.Errorf("%s: is there already, and is left as it is\n  next: name another file, or write over it with --overwrite", path)
	}
	return nil
}

// deliver writes to a file, or with "-" to standard output; then it tells so, unless what was written is the answer.
func (a *app) deliver(path string, content []byte, told any, lay func(p *page)) error {
	if path == "-" {
		_, err := a.io.Out.Write(content)
		return err
	}
	if err := a.writeFile(path, content); err != nil {
		return err
	}
	return a.answerJSON(told, lay)
}

func fileError(path string, err error) error {
	if err == nil {
		return nil
	}
	var pathErr *fs.PathError
	if errors.As(err, &pathErr) {
		err = pathErr.Err
	}
	return fmt.Errorf("%s: %w", path, err)
}

// baseName is a file's name without its folders, for messages.
func baseName(path string) string {
	if path == "-" {
		return "standard input"
	}
	return filepath.Base(path)
}
