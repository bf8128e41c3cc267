package settings

import (
	"fmt"
	"os"
	"runtime"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"gritward/internal/transport"
)

// DefaultAddress is where the server listens, and the client looks, unless told otherwise. 7347 is in the registered
// range and was chosen freely.
const DefaultAddress = "127.0.0.1:7347"

// Client is how the client is set up.
type Client struct {
	// Server is the address of the server, host:port.
	Server string `mapstructure:"server"`
	// Token lets this device in: "<club>.<secret>". Empty before an invite was accepted.
	Token Secret `mapstructure:"token"`
	// CAFile holds the certificates (PEM) that the server's certificate must lead to. Empty: those of the system.
	CAFile string `mapstructure:"ca_file"`
	// ServerPins are the pins of the server's own authority, parted by a comma: kept from the invite, and from what the
	// server tells since. With them nothing else is trusted. Empty: the server has a certificate that others vouch for.
	ServerPins string `mapstructure:"server_pins"`
}

// clientKeys are the keys of the client's settings file.
var clientKeys = []string{"ca_file", "server", "server_pins", "token"}

// ClientFlags adds the flags of the client's settings. There is none for the token, which would show in the list of
// processes.
func ClientFlags(flags *pflag.FlagSet) {
	flags.String("server", "", "address of the server, host:port; of several that share a store, parted by commas, the first that can be reached is called (default "+DefaultAddress+")")
	flags.String("ca-file", "", "certificates (PEM) to trust instead of the system's")
}

// ClientFile is where the client's settings are kept unless told otherwise: gritward/client.yaml in the user's
// configuration folder (os.UserConfigDir); "" when there is no such folder.
func ClientFile() string { return defaultPath("client.yaml") }

// LoadClient reads the client's settings. The error is Problems.
func LoadClient(src Source) (Client, error) {
	defaults := map[string]any{}
	for _, key := range clientKeys {
		defaults[key] = ""
	}
	defaults["server"] = DefaultAddress
	m, problems := merge(src, ClientFile(), defaults)
	var c Client
	if len(problems) > 0 {
		return c, problems
	}
	if err := m.viper.Unmarshal(&c); err != nil {
		return c, Problems{{m.path, err.Error()}}
	}
	for _, address := range append(c.Servers(), "")[:max(1, len(c.Servers()))] {
		if what := wrongAddress(address, false); what != "" {
			problems = append(problems, m.problem("server", "%s", what))
		}
	}
	if club, secret, ok := strings.Cut(c.Token.Reveal(), "."); c.Token != "" && (!ok || club == "" || secret == "") {
		problems = append(problems, m.problem("token", "is not a token: accept an invite again (the value is not shown)"))
	}
	if c.CAFile != "" {
		if _, err := os.Stat(c.CAFile); err != nil {
			problems = append(problems, m.problem("ca_file", "%s cannot be read: %s", c.CAFile, cause(err)))
		}
	}
	if _, err := c.Pins(); err != nil {
		problems = append(problems, m.problem("server_pins", "%v: ask the secretary for a new invite, and accept it with --replace", err))
	}
	if _, kept := m.file["token"]; kept {
		problems = append(problems, openToOthers(m.path)...)
	}
	return c, problems.err()
}

// Servers are the addresses of the servers of the same store: the first that can be reached is called.
func (c Client) Servers() []string { return parted(c.Server) }

// Plain tells whether calls go without TLS: only to this machine, and only when nothing to trust was named.
func (c Client) Plain() bool {
	return c.CAFile == "" && c.ServerPins == "" && !slices.ContainsFunc(c.Servers(), func(address string) bool { return !IsLoopback(address) })
}

// Pins are the pins of the server's own authority; none where it has none.
func (c Client) Pins() ([]transport.Pin, error) {
	if c.ServerPins == "" {
		return nil, nil
	}
	return transport.ParsePins(c.ServerPins)
}

// Club is the id of the club that the token is for; "" without a token.
func (c Client) Club() string {
	club, _, _ := strings.Cut(c.Token.Reveal(), ".")
	return club
}

// openToOthers finds a file with a token that other users of the machine can read.
func openToOthers(path string) Problems {
	info, err := os.Stat(path)
	if err != nil || runtime.GOOS == "windows" || info.Mode().Perm()&0o077 == 0 {
		return nil
	}
	return Problems{{path, fmt.Sprintf("holds a token, and others can read it (mode %04o): run chmod 600 on it",
		info.Mode().Perm())}}
}
