package settings

import (
	"errors"
	"fmt"

	"go.yaml.in/yaml/v4"

	"gritward/internal/wholefile"
)

var errNoFolder = errors.New("there is no folder for settings: set HOME, or name a file with --settings")

// SaveClient writes the client's settings to path, for the user alone (mode 0600), all or nothing: a reader sees the
// file before or the file after. Missing folders are made, for the user alone.
func SaveClient(path string, c Client) error {
	if path == "" {
		return errNoFolder
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
	return wholefile.Write(path, content)
}

// CheckWritable finds out whether SaveClient could write to path, before something is done that cannot be repeated.
func CheckWritable(path string) error {
	if path == "" {
		return errNoFolder
	}
	return wholefile.CheckWritable(path)
}
