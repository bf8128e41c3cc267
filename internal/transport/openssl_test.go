//go:build openssl

package transport_test

import (
	"encoding/base64"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"gritward/internal/transport"
)

// openssl runs the openssl command (https://docs.openssl.org/3.0/man1/), an independent implementation of TLS and X.509.
func openssl(t *testing.T, in string, args ...string) (string, error) {
	t.Helper()
	command := exec.Command("openssl", args...)
	command.Stdin = strings.NewReader(in)
	out, err := command.CombinedOutput()
	return string(out), err
}

// TestOpenSSLReadsBack: openssl s_client reads the server's settings back: TLS 1.3 and no older version, the chain to the
// server's own authority, names and times; and openssl computes the pin as RFC 7469, appendix A, has it.
func TestOpenSSLReadsBack(t *testing.T) {
	c := &clock{now: time.Now()} // openssl has a clock of its own
	config := ownConfig(t, c, &logged{}, "127.0.0.1", "rides.example")
	server := newServer(t, config)
	address, file := echo(t, server.TLS), filepath.Join(config.Folder, "authority.pem")
	verified := []string{"s_client", "-connect", address, "-CAfile", file, "-no-CApath", "-no-CAstore", "-verify_return_error"}
	tests := []struct {
		name string
		args []string
		ok   bool
		want []string
	}{
		{"TLS 1.3", append(verified, "-showcerts", "-verify_ip", "127.0.0.1"), true,
			[]string{"New, TLSv1.3, Cipher is TLS_AES_", "Verify return code: 0 (ok)", "Verification: OK",
				" 0 s:CN = gritward server\n", " 1 s:CN = gritward authority of ", "Peer signature type: ECDSA", "No client certificate CA names sent"}},
		{"by name", append(verified, "-verify_hostname", "rides.example"), true, []string{"Verified peername: rides.example"}},
		{"by another address", append(verified, "-verify_ip", "192.0.2.7"), false, []string{"IP address mismatch"}},
		{"by another name", append(verified, "-verify_hostname", "elsewhere.example"), false, []string{"hostname mismatch"}},
		{"TLS 1.2", append(verified, "-tls1_2"), false, []string{"alert protocol version"}},
		{"TLS 1.1", append(verified, "-tls1_1", "-cipher", "ALL:@SECLEVEL=0"), false, []string{"alert protocol version"}},
		{"the system's authorities", []string{"s_client", "-connect", address, "-verify_return_error"}, false, []string{"self-signed certificate in certificate chain"}},
		{"when it has ended", append(verified, "-attime", timestamp(c.Now().AddDate(0, 0, 91))), false, []string{"certificate has expired"}},
		{"before it began", append(verified, "-attime", timestamp(c.Now().Add(-2*time.Hour))), false, []string{"not yet valid"}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			out, err := openssl(t, "", test.args...)
			if (err == nil) != test.ok {
				t.Errorf("openssl ended with %v", err)
			}
			for _, want := range test.want {
				if !strings.Contains(out, want) {
					t.Errorf("%q is not in:\n%s", want, out)
				}
			}
		})
	}
	if got := opensslPin(t, file); got != server.Pins()[0].String() {
		t.Errorf("openssl computes the pin %s, the server tells %s", got, server.Pins()[0])
	}
	if out, err := openssl(t, "", "verify", "-x509_strict", "-check_ss_sig", "-CAfile", file, file); err != nil {
		t.Errorf("openssl verify -x509_strict: %v: %s", err, out)
	}
}

// opensslPin computes the pin of the first certificate in a file by openssl alone.
func opensslPin(t *testing.T, file string) string {
	t.Helper()
	public, err := openssl(t, "", "x509", "-in", file, "-noout", "-pubkey")
	if err != nil {
		t.Fatal(public)
	}
	der, err := openssl(t, public, "pkey", "-pubin", "-outform", "der")
	if err != nil {
		t.Fatal(der)
	}
	sum, err := openssl(t, der, "dgst", "-sha256", "-binary")
	if err != nil {
		t.Fatal(sum)
	}
	return base64.RawURLEncoding.EncodeToString([]byte(sum))
}

// TestOpenSSLMadeFiles: a chain that openssl made, by an authority of its own, is served from files and renewed while the server
// runs; the client takes it by the pin that openssl computed, and openssl sees the change.
func TestOpenSSLMadeFiles(t *testing.T) {
	folder := t.TempDir()
	in := func(name string) string { return filepath.Join(folder, name) }
	must := func(args ...string) {
		t.Helper()
		if out, err := openssl(t, "", args...); err != nil {
			t.Fatalf("openssl %s: %s", strings.Join(args, " "), out)
		}
	}
	must("req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-keyout", in("ca.key"), "-out", in("ca.pem"),
		"-subj", "/CN=authority by openssl", "-days", "2", "-addext", "keyUsage=critical,keyCertSign")
	issue := func(serial string) {
		must("req", "-newkey", "rsa:2048", "-nodes", "-keyout", in("key.pem"), "-out", in("csr.pem"), "-subj", "/CN=server")
		write(t, in("ext.cnf"), []byte("subjectAltName=IP:127.0.0.1\nextendedKeyUsage=serverAuth\n"))
		must("x509", "-req", "-in", in("csr.pem"), "-CA", in("ca.pem"), "-CAkey", in("ca.key"), "-set_serial", serial, "-days", "1",
			"-extfile", in("ext.cnf"), "-out", in("leaf.pem"))
		write(t, in("chain.pem"), append(read(t, in("leaf.pem")), read(t, in("ca.pem"))...))
	}
	issue("11")
	server := newServer(t, transport.Config{Way: transport.Files, CertFile: in("chain.pem"), KeyFile: in("key.pem"), Now: time.Now, Log: (&logged{}).logger()})
	address := echo(t, server.TLS)
	pins, err := transport.ParsePins(opensslPin(t, in("ca.pem")))
	if err != nil {
		t.Fatal(err)
	}
	for i, serial := range []string{"11", "12"} {
		if i > 0 {
			issue(serial)
		}
		if got := leaf(t, address, time.Now, pins...); got != serial {
			t.Errorf("the client was shown serial number %s, want %s", got, serial)
		}
		shown, err := openssl(t, "", "s_client", "-connect", address, "-CAfile", in("ca.pem"), "-verify_return_error")
		if err != nil {
			t.Fatal(shown)
		}
		if got, err := openssl(t, shown, "x509", "-noout", "-serial"); err != nil || got != map[string]string{"11": "serial=0B\n", "12": "serial=0C\n"}[serial] {
			t.Errorf("openssl was shown %q, %v", got, err)
		}
	}
}

func timestamp(at time.Time) string { return strconv.FormatInt(at.Unix(), 10) }
