package daemon_test

import (
	"crypto/ecdsa"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"io"
	"io/fs"
	"log"
	"net"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/letsencrypt/pebble/v2/ca"
	"github.com/letsencrypt/pebble/v2/db"
	"github.com/letsencrypt/pebble/v2/va"
	"github.com/letsencrypt/pebble/v2/wfe"
	"github.com/miekg/dns"
	"google.golang.org/grpc/credentials"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
)

// acmeAuthority is a real authority that speaks ACME (RFC 8555): Pebble, made for tests, with a resolver by which every name
// leads to this machine. It holds names against tls-alpn-01 at a port that is given.
type acmeAuthority struct {
	directory, caFile string
	roots             *x509.CertPool
}

func newACMEAuthority(t *testing.T, tlsPort int) *acmeAuthority {
	t.Helper()
	t.Setenv("PEBBLE_VA_NOSLEEP", "1")
	t.Setenv("PEBBLE_WFE_NONCEREJECT", "0")
	quiet := log.New(io.Discard, "", 0)
	store := db.NewMemoryStore()
	issuing := ca.New(quiet, store, "", "ecdsa", 0, 1, map[string]ca.Profile{"default": {}})
	validating := va.New(quiet, 0, tlsPort, true, resolver(t), store)
	front := wfe.New(quiet, store, validating, issuing, []string{"authority.example"}, true, false, 1, 1)
	serving := httptest.NewTLSServer(front.Handler())
	t.Cleanup(serving.Close)
	a := &acmeAuthority{directory: serving.URL + wfe.DirectoryPath, caFile: filepath.Join(t.TempDir(), "directory-ca.pem"), roots: x509.NewCertPool()}
	block := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: serving.Certificate().Raw})
	if err := os.WriteFile(a.caFile, block, 0o600); err != nil {
		t.Fatal(err)
	}
	if !a.roots.AppendCertsFromPEM(issuing.GetRootCert(0).PEM()) {
		t.Fatal("the authority has no root certificate")
	}
	return a
}

// resolver is a name server by which every name leads to 127.0.0.1.
func resolver(t *testing.T) string {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := &dns.Server{Listener: listener, Handler: dns.HandlerFunc(func(w dns.ResponseWriter, asked *dns.Msg) {
		answer := new(dns.Msg).SetReply(asked)
		if asked.Question[0].Qtype == dns.TypeA {
			answer.Answer = []dns.RR{&dns.A{Hdr: dns.RR_Header{Name: asked.Question[0].Name, Rrtype: dns.TypeA, Class: dns.ClassINET}, A: net.IPv4(127, 0, 0, 1)}}
		}
		_ = w.WriteMsg(answer)
	})}
	ended := make(chan error, 1)
	go func() { ended <- server.ActivateAndServe() }()
	t.Cleanup(func() {
		_ = listener.Close()
		<-ended
	})
	return listener.Addr().String()
}

// TestACME: gritwardd gets its certificate from an authority by ACME, over the very port that it serves on; asks for no
// name but its own; keeps what it got for its owner alone; and after a restart has it still.
func TestACME(t *testing.T) {
	reserved, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := reserved.Addr().String()
	authority := newACMEAuthority(t, reserved.Addr().(*net.TCPAddr).Port)
	_ = reserved.Close()
	data := filepath.Join(t.TempDir(), "club.db")
	args := []string{"--data", data, "--listen", address, "--tls", "acme", "--public-addresses", "rides.example,127.0.0.1",
		"--acme-terms", "agreed", "--acme-directory", authority.directory, "--acme-ca-file", authority.caFile, "--handshake-timeout", "1m"}
	serial := ""
	t.Run("first start", func(t *testing.T) {
		serial = servedByACME(t, authority, address, args)
		if _, err := tls.Dial("tcp", address, &tls.Config{InsecureSkipVerify: true, ServerName: "elsewhere.example"}); err == nil {
			t.Error("a certificate for a name that is not the server's")
		}
		if _, err := tls.Dial("tcp", address, &tls.Config{RootCAs: authority.roots, ServerName: "rides.example", MaxVersion: tls.VersionTLS12}); err == nil {
			t.Error("TLS 1.2 is taken")
		}
	})
	kept := map[string]bool{}
	err = filepath.WalkDir(data+".tls", func(path string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := entry.Info()
		if err == nil && info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s: others can read it (mode %v)", path, info.Mode())
		}
		kept[entry.Name()] = true
		return err
	})
	for name := range kept {
		if strings.Contains(name, "elsewhere") || strings.Contains(name, "127.0.0.1") {
			t.Errorf("a certificate was asked for: %s", name)
		}
	}
	if err != nil || !kept["rides.example"] {
		t.Errorf("kept %v, %v", kept, err)
	}
	t.Run("after a restart", func(t *testing.T) {
		if again := servedByACME(t, authority, address, args); again != serial {
			t.Errorf("certificate %s, before the restart %s", again, serial)
		}
	})
}

// servedByACME serves, calls, and gives the serial number of the certificate shown.
func servedByACME(t *testing.T, authority *acmeAuthority, address string, args []string) string {
	t.Helper()
	conn := serving(t, credentials.NewTLS(&tls.Config{RootCAs: authority.roots, ServerName: "rides.example", MinVersion: tls.VersionTLS13}), args...)
	if _, err := healthpb.NewHealthClient(conn).Check(t.Context(), &healthpb.HealthCheckRequest{}); err != nil {
		t.Fatal(err)
	}
	shown, err := tls.Dial("tcp", address, &tls.Config{RootCAs: authority.roots, ServerName: "rides.example", MinVersion: tls.VersionTLS13})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = shown.Close() }()
	leaf := shown.ConnectionState().PeerCertificates[0]
	if _, ok := leaf.PublicKey.(*ecdsa.PublicKey); !ok {
		t.Errorf("the key of the certificate is %T", leaf.PublicKey)
	}
	return leaf.SerialNumber.String()
}
