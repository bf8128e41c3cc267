package settings

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"regexp"
	"strings"
	"sync"

	"go.yaml.in/yaml/v4"

	"gritward/internal/transport"
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
		Pins   string `yaml:"server_pins,omitempty"`
	}{c.Server, c.Token.Reveal(), c.CAFile, c.ServerPins}
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

// pinsLine is the line of a client's settings file that has the pins.
var pinsLine = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`(?m)^server_pins:[^\n]*$`) })

// KeepPins puts pins that the server told in place of those in the client's settings file, and leaves the rest of the file
// as it is. used are the pins that the server was trusted by: a file with others, or with none, stays as it is.
func KeepPins(path, used string, pins []string) error {
	content, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	told := strings.Join(pins, ",")
	before, problems := parse(path, content, clientKeys)
	if len(problems) > 0 || before["server_pins"].text != used || used == told {
		return problems.err()
	}
	if _, err := transport.ParsePins(told); err != nil {
		return fmt.Errorf("the server told what are no pins: %w", err)
	}
	content = pinsLine().ReplaceAllLiteral(content, []byte("server_pins: "+told))
	if after, problems := parse(path, content, clientKeys); len(problems) > 0 || after["server_pins"].text != told {
		return fmt.Errorf("%s: the new pins cannot be put in: write server_pins on one line", path)
	}
	return wholefile.Write(path, content)
}
