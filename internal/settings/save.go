package settings

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"go.yaml.in/yaml/v4"
)

// SaveClient writes the client's settings to path, for the user alone (mode 0600), all or nothing: a reader sees the
// file before or the file after. Missing folders are made, for the user alone.
func SaveClient(path string, c Client) error {
	if path == "" {
		return errors.New("there is no folder for settings: set HOME, or name a file with --settings")
	}
	values := struct {
		Server string `yaml:"server"`
		Token  string `yaml:"token,omitempty"`
		CAFile string `yaml:"ca_file,omitempty"`
	}{c.Server, c.Token.Reveal(), c.CAFile}
	content, err := yaml.Dump(values)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return writeWhole(path, content)
}

// CheckWritable finds out whether SaveClient could write to path, before something is done that cannot be repeated.
func CheckWritable(path string) error {
	if path == "" {
		return SaveClient(path, Client{})
	}
	file, err := temporaryBeside(path)
	if err != nil {
		return err
	}
	return errors.Join(file.Close(), os.Remove(file.Name()))
}

func temporaryBeside(path string) (*os.File, error) {
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

// writeWhole writes beside the file, makes sure that it is on the disk, and puts it in place.
func writeWhole(path string, content []byte) (err error) {
	file, err := temporaryBeside(path)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = fmt.Errorf("cannot write %s: %w", path, err)
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
	return os.Rename(file.Name(), path)
}
