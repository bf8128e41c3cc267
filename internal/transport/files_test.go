package transport_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gritward/internal/transport"
)

// TestFilesReload: a pair that changes is shown from the next connection on, without a restart, and open connections go on;
// a half-written or mismatched pair leaves the last good one, and is logged once for each change.
func TestFilesReload(t *testing.T) {
	folder, c, l := t.TempDir(), &clock{now: friday}, &logged{}
	certFile, keyFile := filepath.Join(folder, "cert.pem"), filepath.Join(folder, "key.pem")
	authority := newIssuer(t, "files")
	pin := transport.PinOf(authority.cert)
	cert, key := authority.leaf(t, friday.Add(-time.Hour), friday.AddDate(0, 3, 0), "127.0.0.1")
	write(t, certFile, cert)
	write(t, keyFile, key)
	config := transport.Config{Way: transport.Files, CertFile: certFile, KeyFile: keyFile, Hosts: []string{"127.0.0.1"}, Now: c.Now, Log: l.logger()}
	server := newServer(t, config)
	if server.Pins != nil {
		t.Error("pins of an authority that is not the server's")
	}
	address := echo(t, server.TLS)
	first := leaf(t, address, c.Now, pin)
	open, _, err := dial(t, address, transport.ClientConfig{Pins: []transport.Pin{pin}, Now: c.Now})
	if err != nil {
		t.Fatal(err)
	}
	newCert, newKey := authority.leaf(t, friday.Add(-time.Hour), friday.AddDate(0, 3, 0), "127.0.0.1")
	steps := []struct {
		name, path string
		content    []byte
	}{
		{"half a key", keyFile, newKey[:len(newKey)/2]},
		{"the key of another certificate", keyFile, newKey},
		{"half a certificate", certFile, newCert[:100]},
		{"empty", certFile, nil},
	}
	for i, step := range steps {
		write(t, step.path, step.content)
		for range 2 {
			if leaf(t, address, c.Now, pin) != first {
				t.Errorf("%s: another certificate", step.name)
			}
		}
		if got := l.count("cannot be used; the one before stays in use"); got != i+1 {
			t.Errorf("%s: logged %d times in all, want %d", step.name, got, i+1)
		}
	}
	if err := os.Remove(certFile); err != nil {
		t.Fatal(err)
	}
	leaf(t, address, c.Now, pin)
	write(t, certFile, newCert)
	if leaf(t, address, c.Now, pin) == first {
		t.Error("the new certificate is not shown")
	}
	if err := say(open); err != nil {
		t.Errorf("an open connection broke: %v", err)
	}
}

// TestFilesAtStart: a server does not start with a pair that does not fit, and says when one ends soon or is for other names.
func TestFilesAtStart(t *testing.T) {
	folder, c, l := t.TempDir(), &clock{now: friday}, &logged{}
	certFile, keyFile := filepath.Join(folder, "cert.pem"), filepath.Join(folder, "key.pem")
	cert, key := newIssuer(t, "files").leaf(t, friday.Add(-time.Hour), friday.Add(time.Hour), "127.0.0.1")
	_, other := newIssuer(t, "files").leaf(t, friday.Add(-time.Hour), friday.Add(time.Hour), "127.0.0.1")
	config := transport.Config{Way: transport.Files, CertFile: certFile, KeyFile: keyFile, Hosts: []string{"rides.example"}, Now: c.Now, Log: l.logger()}
	for name, pair := range map[string][2][]byte{"mismatched": {cert, other}, "empty": {nil, nil}, "truncated": {cert[:100], key}, "swapped": {key, cert}} {
		write(t, certFile, pair[0])
		write(t, keyFile, pair[1])
		if _, err := transport.NewServer(config); err == nil || !strings.Contains(err.Error(), "the certificate and key do not fit") {
			t.Errorf("%s: %v", name, err)
		}
	}
	write(t, certFile, cert)
	write(t, keyFile, key)
	newServer(t, config)
	for _, want := range []string{"ends soon or has ended: renew it", "is not for rides.example"} {
		if l.count(want) != 1 {
			t.Errorf("the log does not say %q", want)
		}
	}
	if _, err := transport.NewServer(transport.Config{Way: "post"}); err == nil {
		t.Error("there is no such way")
	}
	if plain := newServer(t, transport.Config{Way: transport.None}); plain.TLS != nil || plain.Pins != nil {
		t.Error("none is not none")
	}
}
