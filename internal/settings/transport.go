package settings

import (
	"net"
	"net/url"
	"os"
	"regexp"
	"strings"
	"sync"

	"github.com/spf13/pflag"

	"gritward/internal/transport"
)

// transportFlags adds the flags that say how the way to clients is secured.
func transportFlags(flags *pflag.FlagSet) {
	flags.String("tls", "", "where certificates come from: own, files, acme or none (default files with --tls-cert, none on loopback, else own)")
	flags.String("public-addresses", "", "names and IP addresses by which clients reach the server, with :port if it is another than that of --listen, parted by commas; invites have the first")
	flags.String("tls-cert", "", "certificate chain (PEM), for --tls files; read again when it changes")
	flags.String("tls-key", "", "private key (PEM) of the certificate")
	flags.String("acme-terms", "", "\"agreed\" says that you agree to the terms of the ACME authority, for --tls acme")
	flags.String("acme-email", "", "where the ACME authority may write to (default none)")
	flags.String("acme-directory", "", "https address of the ACME authority's directory (default that of the library golang.org/x/crypto/acme/autocert)")
	flags.String("acme-ca-file", "", "certificates (PEM) that the directory's own must lead to, instead of the system's")
}

// Way is how the server comes by its certificate: as tls says, or as the other settings have it.
func (s Server) Way() transport.Way {
	switch {
	case s.TLS != "":
		return transport.Way(s.TLS)
	case s.TLSCert != "" || s.TLSKey != "":
		return transport.Files
	case IsLoopback(s.Listen):
		return transport.None
	}
	return transport.Own
}

// TLSFolder keeps the server's own authority, and what ACME needs kept: beside the store.
func (s Server) TLSFolder() string { return s.Data + ".tls" }

// Hosts are the names and IP addresses by which clients reach the server, without ports.
func (s Server) Hosts() (hosts []string) {
	for _, address := range s.publicAddresses() {
		host, _ := hostPort(address)
		hosts = append(hosts, host)
	}
	if host, _, err := net.SplitHostPort(s.Listen); err == nil && len(hosts) == 0 && isHost(host) && !unspecified(host) {
		hosts = append(hosts, host)
	}
	return hosts
}

// InviteAddress is the address that invites have, host:port; listening is where the server listens, for its port. "" when
// the settings do not say how the server is reached.
func (s Server) InviteAddress(listening string) string {
	listenHost, listenPort, err := net.SplitHostPort(listening)
	if err != nil {
		return ""
	}
	host, port := listenHost, ""
	if public := s.publicAddresses(); len(public) > 0 {
		host, port = hostPort(public[0])
	} else if unspecified(host) {
		return ""
	}
	if port == "" {
		port = listenPort
	}
	if port == "0" {
		return ""
	}
	return net.JoinHostPort(host, port)
}

func (s Server) publicAddresses() (addresses []string) {
	for address := range strings.SplitSeq(s.PublicAddresses, ",") {
		if address = strings.ToLower(strings.TrimSpace(address)); address != "" {
			addresses = append(addresses, address)
		}
	}
	return addresses
}

// hostPort takes an address apart; port is "" where it has none.
func hostPort(address string) (host, port string) {
	if host, port, err := net.SplitHostPort(address); err == nil {
		return host, port
	}
	return strings.Trim(address, "[]"), "" // an IPv6 address may stand in brackets
}

// hostName is a name of letters, digits, hyphens and dots (RFC 1123, 2.1); others are written in the form xn-- (RFC 5890).
var hostName = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^([a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?\.)*[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?$`)
})

func isHost(host string) bool {
	return net.ParseIP(host) != nil || len(host) <= 253 && hostName().MatchString(host)
}

// unspecified tells whether a host stands for every interface.
func unspecified(host string) bool {
	ip := net.ParseIP(host)
	return host == "" || ip != nil && ip.IsUnspecified()
}

// wrongTransport says what is wrong with how the way to clients is secured.
func (m merged) wrongTransport(s Server) Problems {
	problems := m.oneOf("tls", string(s.Way()), string(transport.Own), string(transport.Files), string(transport.ACME), string(transport.None))
	add := func(key, format string, args ...any) { problems = append(problems, m.problem(key, format, args...)) }
	for _, address := range s.publicAddresses() {
		host, port := hostPort(address)
		if !isHost(host) || unspecified(host) || port != "" && wrongAddress(address, false) != "" {
			add("public_addresses", "%q is not a name or an IP address, with or without :port; a name with other letters is written in the form xn--", address)
		}
	}
	if (s.TLSCert == "") != (s.TLSKey == "") {
		add("tls_cert", "tls_cert and tls_key go together: give both or none")
	}
	for _, file := range []struct{ key, path string }{{"tls_cert", s.TLSCert}, {"tls_key", s.TLSKey}, {"acme_ca_file", s.ACMECAFile}} {
		if file.path == "" {
			continue
		}
		if _, err := os.Stat(file.path); err != nil {
			add(file.key, "%s cannot be read: %s", file.path, cause(err))
		}
	}
	if wrongAddress(s.Listen, true) != "" {
		return problems // said already
	}
	return append(problems, m.wrongWay(s)...)
}

// wrongWay says what the way that was chosen lacks.
func (m merged) wrongWay(s Server) (problems Problems) {
	add := func(key, format string, args ...any) { problems = append(problems, m.problem(key, format, args...)) }
	switch s.Way() {
	case transport.None:
		if !IsLoopback(s.Listen) {
			add("listen", "%s can be reached from other machines, so it needs TLS: take tls: none out, or listen on "+DefaultAddress, s.Listen)
		}
	case transport.Files:
		if s.TLSCert == "" && s.TLSKey == "" {
			add("tls", "files needs tls_cert and tls_key")
		}
	case transport.Own:
		if len(s.Hosts()) == 0 {
			add("listen", "%s can be reached from other machines, so it needs TLS: say with public_addresses by which names or IP addresses "+
				"clients reach it, and the server makes certificates for them; or give tls_cert and tls_key; or listen on "+DefaultAddress, s.Listen)
		}
	case transport.ACME:
		if !transport.CanAsk(s.Hosts()) {
			add("public_addresses", "must have a public name, for example rides.example, for which the ACME authority can give a certificate")
		}
		if s.ACMETerms != "agreed" {
			add("acme_terms", "must be \"agreed\": read the terms of the ACME authority, and agree to them")
		}
		if s.ACMEDirectory != "" {
			if at, err := url.Parse(s.ACMEDirectory); err != nil || at.Scheme != "https" || at.Host == "" {
				add("acme_directory", "must be an address as https://HOST/PATH")
			}
		}
	}
	return problems
}
