package settings_test

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gritward/internal/settings"
	"gritward/internal/transport"
)

// TestWays: how a server comes by its certificate, for whom it is, and what invites have for an address.
func TestWays(t *testing.T) {
	tests := []struct {
		name, file, listening string
		way                   transport.Way
		hosts                 []string
		address               string
	}{
		{"nothing said", "", "127.0.0.1:7347", transport.None, []string{"127.0.0.1"}, "127.0.0.1:7347"},
		{"an authority on this machine", "tls: own", "127.0.0.1:7347", transport.Own, []string{"127.0.0.1"}, "127.0.0.1:7347"},
		{"a free port", "listen: 127.0.0.1:0", "127.0.0.1:41000", transport.None, []string{"127.0.0.1"}, "127.0.0.1:41000"},
		{"a port not known yet", "listen: 127.0.0.1:0", "127.0.0.1:0", transport.None, []string{"127.0.0.1"}, ""},
		{"one interface", "listen: 192.0.2.7:7347", "192.0.2.7:7347", transport.Own, []string{"192.0.2.7"}, "192.0.2.7:7347"},
		{"every interface", "listen: :7347\npublic_addresses: Rides.Example", "[::]:7347", transport.Own, []string{"rides.example"}, "rides.example:7347"},
		{"several", "listen: :7347\npublic_addresses: 'rides.example:443, 192.0.2.7,2001:db8::7'", "[::]:7347", transport.Own,
			[]string{"rides.example", "192.0.2.7", "2001:db8::7"}, "rides.example:443"},
		{"IPv6", "listen: '[::]:7347'\npublic_addresses: '[2001:db8::7]'", "[::]:7347", transport.Own, []string{"2001:db8::7"}, "[2001:db8::7]:7347"},
		{"IPv6 with a port", "listen: '[::]:7347'\npublic_addresses: '[2001:db8::7]:80'", "[::]:7347", transport.Own, []string{"2001:db8::7"}, "[2001:db8::7]:80"},
		{"files", "listen: :7347\ntls_cert: PAIR\ntls_key: PAIR", "[::]:7347", transport.Files, nil, ""},
		{"ACME", "listen: :443\ntls: acme\npublic_addresses: rides.example\nacme_terms: agreed", "[::]:443", transport.ACME, []string{"rides.example"}, "rides.example:443"},
	}
	pair := write(t, "pair")
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			alone(t)
			s, err := settings.LoadServer(settings.Source{File: write(t, strings.ReplaceAll(test.file, "PAIR", pair))})
			if err != nil {
				t.Fatal(err)
			}
			if s.Way() != test.way || !slices.Equal(s.Hosts(), test.hosts) || s.InviteAddress(test.listening) != test.address {
				t.Errorf("%s for %q, invites with %q; want %s for %q, with %q", s.Way(), s.Hosts(), s.InviteAddress(test.listening), test.way, test.hosts, test.address)
			}
		})
	}
}

const (
	pinA = "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"
	pinB = "BBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBA"
)

// TestKeepPins: told pins take the place of those kept, and nothing else in the file changes.
func TestKeepPins(t *testing.T) {
	const before = "# mine\nserver: rides.example:7347 # at home\nserver_pins: " + pinA + "\ntoken: north.AB\n"
	changed := strings.Replace(before, pinA, pinA+","+pinB, 1)
	tests := []struct {
		name, file, used string
		told             []string
		want, err        string
	}{
		{"a next one", before, pinA, []string{pinA, pinB}, changed, ""},
		{"switched", changed, pinA + "," + pinB, []string{pinB}, strings.Replace(before, pinA, pinB, 1), ""},
		{"nothing new", before, pinA, []string{pinA}, before, ""},
		{"trusted by others than the file's", before, pinB, []string{pinA, pinB}, before, ""},
		{"a file without pins", "server: a:1\n", pinA, []string{pinB}, "server: a:1\n", ""},
		{"no pins", before, pinA, []string{"x"}, before, "the server told what are no pins"},
		{"more than can be", before, pinA, []string{pinA, pinB, pinA}, before, "more than two"},
		{"a line break", before, pinA, []string{pinA + "\ntoken: x"}, before, "the server told what are no pins"},
		{"over two lines", "server_pins:\n  " + pinA + "\n", pinA, []string{pinB}, "server_pins:\n  " + pinA + "\n", "write server_pins on one line"},
		{"not YAML", "server: a: b\n", pinA, []string{pinB}, "server: a: b\n", "is not YAML"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			path := write(t, test.file)
			err := settings.KeepPins(path, test.used, test.told)
			if (err == nil) != (test.err == "") || err != nil && !strings.Contains(err.Error(), test.err) {
				t.Errorf("got %v, want %q", err, test.err)
			}
			got, readErr := os.ReadFile(path)
			if readErr != nil || string(got) != test.want {
				t.Errorf("the file holds\n%s\nwant\n%s", got, test.want)
			}
		})
	}
	if err := settings.KeepPins(filepath.Join(t.TempDir(), "none.yaml"), pinA, []string{pinB}); err != nil {
		t.Errorf("no file: %v", err)
	}
}
