package transport

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"golang.org/x/crypto/acme"
	"golang.org/x/crypto/acme/autocert"
)

// ACMEConfig says which authority to ask by ACME (RFC 8555).
type ACMEConfig struct {
	// Directory is the https address of the authority's directory; "": that of the library.
	Directory string
	// Email is where the authority may write to; may be empty.
	Email string
	// CAFile holds the certificates (PEM) that the directory's own certificate must lead to; "": those of the system.
	CAFile string
}

// acmeTimeout bounds one request to the authority.
const acmeTimeout = 30 * time.Second

// fromACME asks an authority for certificates, and shows that the names are the server's over TLS itself (tls-alpn-01, RFC
// 8737): nothing listens in plain text. The authority connects to port 443 of the name.
func fromACME(c Config) (*Server, error) {
	names := publicNames(c.Hosts)
	if len(names) == 0 {
		return nil, fmt.Errorf("no certificate can be asked for: give a public name in public_addresses")
	}
	client := &acme.Client{DirectoryURL: c.ACME.Directory, UserAgent: "gritwardd"}
	if client.DirectoryURL == "" {
		client.DirectoryURL = autocert.DefaultACMEDirectory
	}
	asking := http.DefaultTransport.(*http.Transport).Clone()
	if c.ACME.CAFile != "" {
		content, err := os.ReadFile(c.ACME.CAFile)
		if err != nil {
			return nil, err
		}
		asking.TLSClientConfig = &tls.Config{RootCAs: x509.NewCertPool()}
		if !asking.TLSClientConfig.RootCAs.AppendCertsFromPEM(content) {
			return nil, fmt.Errorf("%s holds no certificate: give the file with the lines BEGIN CERTIFICATE", c.ACME.CAFile)
		}
	}
	client.HTTPClient = &http.Client{Transport: asking, Timeout: acmeTimeout}
	manager := &autocert.Manager{
		Prompt: autocert.AcceptTOS, Email: c.ACME.Email, Client: client,
		Cache:      autocert.DirCache(filepath.Join(c.Folder, "acme")), // made with 0700, files 0600
		HostPolicy: func(_ context.Context, host string) error { return among(names, host) },
	}
	var ends atomic.Int64 // of the certificate that was shown last
	certificate := func(hello *tls.ClientHelloInfo) (*tls.Certificate, error) {
		got, err := manager.GetCertificate(modern(hello))
		if err == nil && got.Leaf != nil && !slices.Contains(hello.SupportedProtos, acme.ALPNProto) {
			ends.Store(got.Leaf.NotAfter.Unix())
		}
		return got, err
	}
	config := only13(certificate)
	config.NextProtos = []string{acme.ALPNProto}
	return &Server{TLS: config, Warm: func() { warm(c, names, certificate) }, Ends: map[string]func() time.Time{LeafEnds: func() time.Time {
		if at := ends.Load(); at != 0 {
			return time.Unix(at, 0)
		}
		return time.Time{}
	}}}, nil
}

// warm gets the certificate of each name, and says in the log why there is none.
func warm(c Config, names []string, certificate func(*tls.ClientHelloInfo) (*tls.Certificate, error)) {
	for _, name := range names {
		got, err := certificate(&tls.ClientHelloInfo{ServerName: name})
		if err != nil {
			c.Log.Error("no certificate for "+name+" yet: the name must lead to this server, port 443; it is tried again for the next client", "error", err)
			continue
		}
		c.Log.Info("the certificate for "+name+" is in use", "ends", got.Leaf.NotAfter)
	}
}

// modern asks for a certificate with an ECDSA key: the library takes a client that offers the cipher suites of TLS 1.3
// alone for one that knows RSA only.
func modern(hello *tls.ClientHelloInfo) *tls.ClientHelloInfo {
	asked := *hello
	asked.CipherSuites = append(slices.Clone(hello.CipherSuites), tls.TLS_ECDHE_ECDSA_WITH_AES_128_GCM_SHA256)
	return &asked
}

// publicNames are the hosts that an authority can be asked for: names of more than one part.
func publicNames(hosts []string) (names []string) {
	for _, host := range hosts {
		if net.ParseIP(host) == nil && strings.Contains(strings.Trim(host, "."), ".") {
			names = append(names, strings.ToLower(host))
		}
	}
	return names
}

// CanAsk tells whether an authority can be asked for any of the hosts.
func CanAsk(hosts []string) bool { return len(publicNames(hosts)) > 0 }

func among(names []string, host string) error {
	if slices.Contains(names, host) {
		return nil
	}
	return fmt.Errorf("no certificate is asked for %q: it is not in public_addresses", host)
}
