package transport_test

import (
	"bytes"
	"crypto/tls"
	"io"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"gritward/internal/transport"
)

// friday is when the clock of a test begins.
var friday = time.Date(2026, time.December, 11, 19, 0, 0, 0, time.UTC)

// clock is one that a test moves by hand.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *clock) set(at time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = at
}

// logged is a log that a test reads while a server writes.
type logged struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (l *logged) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(p)
}

func (l *logged) count(what string) int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return bytes.Count(l.text.Bytes(), []byte(what))
}

func (l *logged) logger() *slog.Logger { return slog.New(slog.NewTextHandler(l, nil)) }

// ownConfig is a server with an authority of its own in a folder.
func ownConfig(t *testing.T, c *clock, l *logged, hosts ...string) transport.Config {
	t.Helper()
	if len(hosts) == 0 {
		hosts = []string{"127.0.0.1"}
	}
	return transport.Config{Way: transport.Own, Folder: filepath.Join(t.TempDir(), "club.db.tls"), Hosts: hosts, Now: c.Now, Log: l.logger()}
}

func newServer(t *testing.T, config transport.Config) *transport.Server {
	t.Helper()
	made, err := transport.NewServer(config)
	if err != nil {
		t.Fatal(err)
	}
	return made
}

// echo serves a configuration on loopback until the test ends: what is sent comes back.
func echo(t *testing.T, config *tls.Config) (address string) {
	t.Helper()
	listener, err := tls.Listen("tcp", "127.0.0.1:0", config)
	if err != nil {
		t.Fatal(err)
	}
	var open sync.WaitGroup
	open.Go(func() {
		for {
			conn, err := listener.Accept()
			if err != nil {
				return // the listener is closed
			}
			open.Go(func() {
				_, _ = io.Copy(conn, conn)
				_ = conn.Close()
			})
		}
	})
	t.Cleanup(func() {
		_ = listener.Close()
		open.Wait()
	})
	return listener.Addr().String()
}

// dial connects as a client does, and gives why it refused.
func dial(t *testing.T, address string, c transport.ClientConfig) (*tls.Conn, *transport.Refusal, error) {
	t.Helper()
	var refusal *transport.Refusal
	c.Refused = func(r *transport.Refusal) { refusal = r }
	if c.Host == "" {
		c.Host = "127.0.0.1"
	}
	config, err := transport.NewClient(c)
	if err != nil {
		t.Fatal(err)
	}
	raw, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = raw.Close() })
	conn := tls.Client(raw, config)
	if err := conn.Handshake(); err != nil {
		return nil, refusal, err
	}
	return conn, refusal, say(conn) // in TLS 1.3 a refusal of the server comes after the client's handshake
}

// say sends a few bytes and waits for them to come back.
func say(conn *tls.Conn) error {
	if _, err := conn.Write([]byte("ride")); err != nil {
		return err
	}
	_, err := io.ReadFull(conn, make([]byte, 4))
	return err
}

// leaf connects with pins and gives the serial number of the certificate shown.
func leaf(t *testing.T, address string, now func() time.Time, pins ...transport.Pin) string {
	t.Helper()
	conn, _, err := dial(t, address, transport.ClientConfig{Pins: pins, Now: now})
	if err != nil {
		t.Fatal(err)
	}
	return conn.ConnectionState().PeerCertificates[0].SerialNumber.String()
}

func write(t *testing.T, path string, content []byte) {
	t.Helper()
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
}

func read(t *testing.T, path string) []byte {
	t.Helper()
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return content
}
