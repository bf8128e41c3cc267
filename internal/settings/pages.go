package settings

import (
	"net/url"
	"slices"

	"gritward/internal/transport"
)

// maxPagesAddress is the longest address of pages, in bytes: with the name of an issue behind it, its code on paper stays
// coarse enough for a telephone.
const maxPagesAddress = 100

// PagesProxied tells whether another server on this machine takes browsers' calls for the pages: it speaks TLS with them, and
// says in X-Forwarded-For whom each call comes from.
func (s Server) PagesProxied() bool { return s.PagesAddress != "" && IsLoopback(s.PagesListen) }

// wrongPages says what is wrong with the address of the pages, and with where they are served.
func (m merged) wrongPages(s Server) Problems {
	problems := m.wrongPagesAddress(s.PagesAddress)
	if s.PagesListen == "" {
		if s.PagesAddress != "" {
			problems = append(problems, m.problem("pages_address", "nothing answers there: say with pages_listen where to serve the pages"))
		}
		return problems
	}
	if what := wrongAddress(s.PagesListen, true); what != "" {
		return append(problems, m.problem("pages_listen", "%s", what))
	}
	if IsLoopback(s.PagesListen) {
		return problems
	}
	if s.PagesAddress == "" {
		return append(problems, m.problem("pages_listen", "%s can be reached from other machines: say with pages_address how, for example https://rides.example", s.PagesListen))
	}
	at, err := url.Parse(s.PagesAddress)
	switch way := s.Way(); {
	case err != nil:
	case way != transport.Files && way != transport.ACME:
		problems = append(problems, m.problem("pages_listen", "browsers trust no certificate of the server's own: set tls_cert and tls_key or tls: acme, "+
			"or listen on 127.0.0.1 behind a server that speaks TLS"))
	case way == transport.ACME && !slices.Contains(s.Hosts(), at.Hostname()):
		problems = append(problems, m.problem("pages_address", "%s is not among public_addresses, for which the certificate is", at.Hostname()))
	}
	return problems
}

// wrongPagesAddress says what is wrong with the address of the pages itself.
func (m merged) wrongPagesAddress(address string) Problems {
	if address == "" {
		return nil
	}
	const example = "for example https://rides.example"
	at, err := url.Parse(address)
	switch {
	case err != nil || at.Scheme != "https" || at.Host == "" || at.Opaque != "":
		return Problems{m.problem("pages_address", "is not an https address; write it as browsers show it, %s", example)}
	case at.User != nil || at.RawQuery != "" || at.ForceQuery || at.Fragment != "" || at.Path != "":
		return Problems{m.problem("pages_address", "must be the host alone, %s", example)}
	case len(address) > maxPagesAddress:
		return Problems{m.problem("pages_address", "is longer than %d bytes", maxPagesAddress)}
	}
	return nil
}
