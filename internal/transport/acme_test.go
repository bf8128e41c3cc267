package transport_test

import (
	"crypto/tls"
	"path/filepath"
	"strings"
	"testing"

	"gritward/internal/transport"
)

// TestACMEUnreachable: an authority that does not answer keeps no server from starting; the log says what to look at, and
// names that are not the server's are refused before anybody is asked.
func TestACMEUnreachable(t *testing.T) {
	c, l := &clock{now: friday}, &logged{}
	config := transport.Config{Way: transport.ACME, Folder: t.TempDir(), Hosts: []string{"Rides.Example", "192.0.2.7"}, Now: c.Now, Log: l.logger(),
		ACME: transport.ACMEConfig{Directory: "https://127.0.0.1:1/directory"}}
	server := newServer(t, config)
	server.Warm()
	if l.count("no certificate for rides.example yet: the name must lead to this server, port 443") != 1 || l.count("192.0.2.7") != 0 {
		t.Errorf("the log holds %s", l.text.String())
	}
	for name, want := range map[string]string{"elsewhere.example": "is not in public_addresses", "": "missing server name", "localhost": "component count"} {
		if _, err := server.TLS.GetCertificate(&tls.ClientHelloInfo{ServerName: name}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", name, err)
		}
	}
}

func TestACMERefused(t *testing.T) {
	empty := filepath.Join(t.TempDir(), "ca.pem")
	write(t, empty, []byte("none"))
	base := transport.Config{Way: transport.ACME, Folder: t.TempDir(), Hosts: []string{"rides.example"}, Now: friday.UTC, Log: (&logged{}).logger()}
	for want, change := range map[string]func(*transport.Config){
		"give a public name":   func(c *transport.Config) { c.Hosts = []string{"192.0.2.7", "localhost"} },
		"holds no certificate": func(c *transport.Config) { c.ACME.CAFile = empty },
		"no such file":         func(c *transport.Config) { c.ACME.CAFile = empty + ".none" },
	} {
		config := base
		change(&config)
		if _, err := transport.NewServer(config); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q in it", err, want)
		}
	}
}
