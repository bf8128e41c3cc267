package cli

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
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

// writeFile writes a file that a command was asked for.
func writeFile(path string, content []byte) error {
	if err := os.WriteFile(path, content, 0o644); err != nil {
		return fileError(path, err)
	}
	return nil
}

func fileError(path string, err error) error {
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
