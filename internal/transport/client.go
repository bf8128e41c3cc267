package transport

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"
)

// ClientConfig is what a client's side needs.
type ClientConfig struct {
	// Host is the name or IP address by which the client reaches the server.
	Host string
	// Pins are those of the server's own authority. With them nothing else is trusted.
	Pins []Pin
	// CAFile holds the certificates (PEM) to trust where there are no pins; "": those of the system.
	CAFile string
	// Now tells the time.
	Now func() time.Time
	// Refused is told why a server was refused: the error itself gets lost on its way through the connection. May be nil.
	Refused func(*Refusal)
}

// Refusal is why a client did not trust a server.
type Refusal struct {
	Kind Kind
	// What is wrong, in words.
	What string
}

// Kind is a kind of refusal.
type Kind int

// The kinds.
const (
	// OtherAuthority: the certificate does not lead to the authority whose pin is known.
	OtherAuthority Kind = iota + 1
	// UnknownAuthority: it leads to none that the system or the file vouches for.
	UnknownAuthority
	// OutOfTime: it is not good yet, or not any more.
	OutOfTime
	// OtherName: it is for another name or address.
	OtherName
	// Unfit: anything else.
	Unfit
)

// Error is what is wrong.
func (r *Refusal) Error() string { return r.What }

// NewClient makes a client's configuration.
func NewClient(c ClientConfig) (*tls.Config, error) {
	var roots *x509.CertPool
	if c.CAFile != "" && len(c.Pins) == 0 {
		content, err := os.ReadFile(c.CAFile)
		if err != nil {
			return nil, err
		}
		roots = x509.NewCertPool()
		if !roots.AppendCertsFromPEM(content) {
			return nil, fmt.Errorf("%s holds no certificate\n  next: give the file with the lines BEGIN CERTIFICATE", c.CAFile)
		}
	}
	return &tls.Config{
		MinVersion: tls.VersionTLS13,
		ServerName: c.Host,
		// The library's own verification knows no pins, and lets no reason through; verify does all that it would do, in
		// every handshake.
		InsecureSkipVerify: true,
		VerifyConnection: func(state tls.ConnectionState) error {
			err := verify(state.PeerCertificates, roots, c)
			if err == nil {
				return nil
			}
			refusal := refuse(err, state.PeerCertificates[0], c)
			if c.Refused != nil {
				c.Refused(refusal)
			}
			return refusal
		},
	}, nil
}

var errOtherAuthority = errors.New("the server shows no authority with a pin that this device knows")

// verify holds the certificates that a server shows against name, time and what is trusted: with pins the authority in the
// chain that has one of them and nothing else.
func verify(shown []*x509.Certificate, roots *x509.CertPool, c ClientConfig) error {
	options := x509.VerifyOptions{
		DNSName: c.Host, Roots: roots, Intermediates: x509.NewCertPool(), CurrentTime: c.Now(),
		KeyUsages: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	if len(c.Pins) > 0 {
		options.Roots = x509.NewCertPool()
	}
	pinned := false
	for _, cert := range shown[1:] {
		if slices.Contains(c.Pins, PinOf(cert)) {
			options.Roots.AddCert(cert)
			pinned = true
		} else {
			options.Intermediates.AddCert(cert)
		}
	}
	if len(c.Pins) > 0 && !pinned {
		return errOtherAuthority
	}
	_, err := shown[0].Verify(options)
	return err
}

// refuse puts into words why a certificate was not taken.
func refuse(err error, leaf *x509.Certificate, c ClientConfig) *Refusal {
	var unknown x509.UnknownAuthorityError
	var invalid x509.CertificateInvalidError
	var name x509.HostnameError
	switch {
	case errors.Is(err, errOtherAuthority), errors.As(err, &unknown) && len(c.Pins) > 0:
		return &Refusal{OtherAuthority, "its certificate is not from the authority that this device was told to trust"}
	case errors.As(err, &unknown):
		return &Refusal{UnknownAuthority, "its certificate is from an authority that this device does not know"}
	case errors.As(err, &invalid) && invalid.Reason == x509.Expired:
		cert := leaf
		if invalid.Cert != nil {
			cert = invalid.Cert
		}
		return &Refusal{OutOfTime, fmt.Sprintf("its certificate is good from %s, and here it is %s", validity(cert), c.Now().UTC().Format(time.DateTime)+" UTC")}
	case errors.As(err, &name):
		return &Refusal{OtherName, fmt.Sprintf("its certificate is for %s, not for %s", namesOf(leaf), c.Host)}
	}
	return &Refusal{Unfit, "its certificate cannot be used: " + err.Error()}
}

// namesOf lists the names and addresses that a certificate is for, up to five.
func namesOf(cert *x509.Certificate) string {
	names := slices.Clone(cert.DNSNames)
	for _, ip := range cert.IPAddresses {
		names = append(names, ip.String())
	}
	switch {
	case len(names) == 0:
		return "nothing"
	case len(names) > 5:
		names = append(names[:5], "others")
	}
	return strings.Join(names, ", ")
}
