package transport

import (
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"log/slog"
	"net"
	"slices"
	"sync"
	"time"
)

// Way is how a server comes by its certificate.
type Way string

// The ways. None is plain text, which is for loopback only.
const (
	None  Way = "none"
	Files Way = "files"
	Own   Way = "own"
	ACME  Way = "acme"
)

// Config is what a server's side needs.
type Config struct {
	Way Way
	// CertFile and KeyFile are a certificate chain and its key (PEM), for Files.
	CertFile, KeyFile string
	// Folder keeps the own authority, or the account and certificates of ACME.
	Folder string
	// Hosts are the names and IP addresses by which clients reach the server.
	Hosts []string
	// ACME says whom to ask.
	ACME ACMEConfig
	// Now tells the time.
	Now func() time.Time
	Log *slog.Logger
}

// Server is the server's side.
type Server struct {
	// TLS is nil for plain text.
	TLS *tls.Config
	// Pins gives the pins of the server's own authority; nil without one.
	Pins func() []Pin
	// Warm gets the certificates that have to be asked for, so that no client waits for them; nil: there are none.
	Warm func()
	// Ends tells, by LeafEnds and AuthorityEnds, when a certificate ends; the zero time: none is in use yet. Empty for plain text.
	Ends map[string]func() time.Time
}

// What Ends tells of: the server's certificate, and that of its own authority.
const LeafEnds, AuthorityEnds = "server", "authority"

// NewServer sets up the server's side. Certificates are read, made or renewed later on as new connections need them.
func NewServer(config Config) (*Server, error) {
	switch config.Way {
	case None:
		return &Server{}, nil
	case Files:
		return fromFiles(config)
	case Own:
		return fromOwn(config)
	case ACME:
		return fromACME(config)
	}
	return nil, fmt.Errorf("there is no way %q to come by a certificate", config.Way)
}

// only13 is the configuration that all ways share. No session is resumed: it would go round a certificate that changed.
func only13(certificate func(*tls.ClientHelloInfo) (*tls.Certificate, error)) *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS13, GetCertificate: certificate, SessionTicketsDisabled: true}
}

// soon is how long before its end a certificate from files is told of in the log.
const soon = 14 * 24 * time.Hour

// fromFiles shows the certificate in two files, read again when they change.
func fromFiles(c Config) (*Server, error) {
	pair, err := keep(c.Log, "the certificate in "+c.CertFile, func() (*tls.Certificate, error) {
		pair, err := tls.LoadX509KeyPair(c.CertFile, c.KeyFile)
		if err != nil {
			return nil, err
		}
		if left := pair.Leaf.NotAfter.Sub(c.Now()); left < soon {
			c.Log.Warn("the certificate in "+c.CertFile+" ends soon or has ended: renew it", "ends", pair.Leaf.NotAfter)
		}
		for _, host := range c.Hosts {
			if err := pair.Leaf.VerifyHostname(host); err != nil {
				c.Log.Warn("the certificate in " + c.CertFile + " is not for " + host + ", by which clients reach the server")
			}
		}
		return &pair, nil
	}, c.CertFile, c.KeyFile)
	if err != nil {
		return nil, fmt.Errorf("the certificate and key do not fit: %w", err)
	}
	return &Server{TLS: only13(func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return pair.get(), nil }),
		Ends: map[string]func() time.Time{LeafEnds: func() time.Time { return pair.get().Leaf.NotAfter }}}, nil
}

// own shows certificates that the server's own authority signs. They are kept in memory alone: a restart makes a new one.
type own struct {
	hosts []string
	now   func() time.Time
	log   *slog.Logger
	state *kept[*state]

	mu     sync.Mutex
	shown  *tls.Certificate
	signed *x509.Certificate // the authority that signed what is shown
}

func fromOwn(c Config) (*Server, error) {
	authority, err := MakeAuthority(c.Folder, c.Now)
	if err != nil {
		return nil, err
	}
	state, err := keep(c.Log, "the server's authority", authority.read, authority.currentFile(), authority.nextFile())
	if err != nil {
		return nil, err
	}
	o := &own{hosts: withLoopback(c.Hosts), now: c.Now, log: c.Log, state: state}
	if _, err := o.certificate(nil); err != nil {
		return nil, err
	}
	if ends := state.value.current.cert.NotAfter; ends.Sub(c.Now()) < 4*leafGood {
		c.Log.Warn("the server's authority ends within a year or has ended: change it (gritwardd authority --help)", "ends", ends)
	}
	return &Server{TLS: only13(o.certificate), Pins: func() []Pin { return state.get().pins() }, Ends: map[string]func() time.Time{
		LeafEnds: func() time.Time {
			if made, err := o.certificate(nil); err == nil {
				return made.Leaf.NotAfter
			}
			return time.Time{}
		},
		AuthorityEnds: func() time.Time { return state.get().current.cert.NotAfter },
	}}, nil
}

// withLoopback adds what the server is called on its own machine.
func withLoopback(hosts []string) []string {
	all := slices.Clone(hosts)
	for _, host := range []string{"localhost", "127.0.0.1", net.IPv6loopback.String()} {
		if !slices.Contains(all, host) {
			all = append(all, host)
		}
	}
	return all
}

// certificate shows the certificate, made anew when the authority changed or less than leafLeft of it is left.
func (o *own) certificate(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	current, now := o.state.get().current, o.now()
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.shown != nil && o.signed.Equal(current.cert) && good(o.shown.Leaf, current.cert, now) {
		return o.shown, nil
	}
	made, err := current.issue(now, o.hosts)
	if err != nil {
		return nil, err
	}
	o.shown, o.signed = made, current.cert
	o.log.Info("made a certificate for the server", "names", o.hosts, "ends", made.Leaf.NotAfter)
	return made, nil
}

// good tells whether a certificate need not be made anew: it is not before its time, where a clock was put right, and far
// enough from its end, or ends with its authority.
func good(leaf, authority *x509.Certificate, now time.Time) bool {
	return !now.Before(leaf.NotBefore) && (leaf.NotAfter.Sub(now) >= leafLeft || leaf.NotAfter.Equal(authority.NotAfter))
}
