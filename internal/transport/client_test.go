package transport_test

import (
	"crypto/tls"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gritward/internal/transport"
)

// TestTrust: whom a client trusts, by pins, by a file, and by the system; each refusal of the right kind.
func TestTrust(t *testing.T) {
	hour := time.Hour
	ours, theirs := newIssuer(t, "ours"), newIssuer(t, "theirs")
	aged := newIssuerOf(t, "aged", friday.Add(-2*hour), friday.Add(-hour))
	good := ours.pair(t, friday.Add(-hour), friday.Add(hour), "127.0.0.1", "localhost", "::1")
	ofTheirs := theirs.pair(t, friday.Add(-hour), friday.Add(hour), "127.0.0.1")
	forged := *ofTheirs
	forged.Certificate = [][]byte{ofTheirs.Certificate[0], ours.cert.Raw, theirs.cert.Raw} // ours is sent along, and signed nothing
	bare := *good
	bare.Certificate = good.Certificate[:1]
	ourPin, theirPin := transport.PinOf(ours.cert), transport.PinOf(theirs.cert)
	leafPin := transport.PinOf(good.Leaf)
	ourFile := filepath.Join(t.TempDir(), "ca.pem")
	write(t, ourFile, ours.pem())
	tests := []struct {
		name   string
		shown  *tls.Certificate
		client transport.ClientConfig
		want   transport.Kind
		what   string
	}{
		{"the pin", good, transport.ClientConfig{Pins: []transport.Pin{ourPin}}, 0, ""},
		{"the pin, by name", good, transport.ClientConfig{Pins: []transport.Pin{ourPin}, Host: "localhost"}, 0, ""},
		{"the pin, by IPv6 address", good, transport.ClientConfig{Pins: []transport.Pin{ourPin}, Host: "::1"}, 0, ""},
		{"one of two pins", good, transport.ClientConfig{Pins: []transport.Pin{theirPin, ourPin}}, 0, ""},
		{"another pin", good, transport.ClientConfig{Pins: []transport.Pin{theirPin}}, transport.OtherAuthority, "not from the authority that this device was told to trust"},
		{"another authority", ofTheirs, transport.ClientConfig{Pins: []transport.Pin{ourPin}}, transport.OtherAuthority, "not from the authority"},
		{"our authority sent along", &forged, transport.ClientConfig{Pins: []transport.Pin{ourPin}}, transport.OtherAuthority, "not from the authority"},
		{"the authority not sent", &bare, transport.ClientConfig{Pins: []transport.Pin{ourPin}}, transport.OtherAuthority, "not from the authority"},
		{"the pin of the server's own key", good, transport.ClientConfig{Pins: []transport.Pin{leafPin}}, transport.OtherAuthority, "not from the authority"},
		{"another pin, and a file that would do", good, transport.ClientConfig{Pins: []transport.Pin{theirPin}, CAFile: ourFile}, transport.OtherAuthority, "not from the authority"},
		{"another name", good, transport.ClientConfig{Pins: []transport.Pin{ourPin}, Host: "rides.example"}, transport.OtherName, "is for localhost, 127.0.0.1, ::1, not for rides.example"},
		{"another address", good, transport.ClientConfig{Pins: []transport.Pin{ourPin}, Host: "192.0.2.7"}, transport.OtherName, "not for 192.0.2.7"},
		{"expired", ours.pair(t, friday.Add(-2*hour), friday.Add(-hour), "127.0.0.1"), transport.ClientConfig{Pins: []transport.Pin{ourPin}},
			transport.OutOfTime, "good from 2026-12-11 to 2026-12-11, and here it is 2026-12-11 19:00:00 UTC"},
		{"not good yet", ours.pair(t, friday.Add(hour), friday.Add(2*hour), "127.0.0.1"), transport.ClientConfig{Pins: []transport.Pin{ourPin}}, transport.OutOfTime, "here it is"},
		{"an authority past its time", aged.pair(t, friday.Add(-hour), friday.Add(hour), "127.0.0.1"),
			transport.ClientConfig{Pins: []transport.Pin{transport.PinOf(aged.cert)}}, transport.OutOfTime, "here it is"},
		{"the file", good, transport.ClientConfig{CAFile: ourFile}, 0, ""},
		{"another than the file's", ofTheirs, transport.ClientConfig{CAFile: ourFile}, transport.UnknownAuthority, "an authority that this device does not know"},
		{"the file, expired", ours.pair(t, friday.Add(-2*hour), friday.Add(-hour), "127.0.0.1"), transport.ClientConfig{CAFile: ourFile}, transport.OutOfTime, "here it is"},
		{"the system's", good, transport.ClientConfig{}, transport.UnknownAuthority, "an authority that this device does not know"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			address := echo(t, &tls.Config{Certificates: []tls.Certificate{*test.shown}})
			test.client.Now = func() time.Time { return friday }
			_, refusal, err := dial(t, address, test.client)
			switch {
			case test.want == 0:
				if err != nil || refusal != nil {
					t.Errorf("refused: %v", err)
				}
			case err == nil || refusal == nil:
				t.Errorf("trusted, or no reason told: %v", err)
			case refusal.Kind != test.want || !strings.Contains(refusal.What, test.what):
				t.Errorf("kind %d, want %d: %s", refusal.Kind, test.want, refusal.What)
			}
		})
	}
}

// TestOnly13: neither side takes TLS 1.2, whatever the other would.
func TestOnly13(t *testing.T) {
	c := &clock{now: friday}
	server := newServer(t, ownConfig(t, c, &logged{}))
	address, pins := echo(t, server.TLS), server.Pins()
	conn, _, err := dial(t, address, transport.ClientConfig{Pins: pins, Now: c.Now})
	if err != nil || conn.ConnectionState().Version != tls.VersionTLS13 {
		t.Fatalf("version %x, %v", conn.ConnectionState().Version, err)
	}
	if _, err := tls.Dial("tcp", address, &tls.Config{InsecureSkipVerify: true, MaxVersion: tls.VersionTLS12}); err == nil {
		t.Error("the server takes TLS 1.2")
	}
	old := server.TLS.Clone()
	old.MinVersion, old.MaxVersion = tls.VersionTLS12, tls.VersionTLS12
	if _, _, err := dial(t, echo(t, old), transport.ClientConfig{Pins: pins, Now: c.Now}); err == nil {
		t.Error("the client takes TLS 1.2")
	}
}

// TestClientFile: a file of certificates that holds none.
func TestClientFile(t *testing.T) {
	empty := filepath.Join(t.TempDir(), "ca.pem")
	write(t, empty, []byte("none"))
	for path, want := range map[string]string{empty: "holds no certificate", filepath.Join(empty, "x"): "not a directory"} {
		if _, err := transport.NewClient(transport.ClientConfig{CAFile: path, Now: time.Now}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", path, err)
		}
	}
}
