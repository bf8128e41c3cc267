package daemon

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"net/url"
	"slices"
	"strings"
	"syscall"
	"time"

	"gritward/internal/settings"
	"gritward/internal/tracing"
	"gritward/internal/transport"
	"gritward/internal/vitals"
)

// addresses: each can be listened on, or this very server does.
func (d *doctor) addresses(ctx context.Context) (findings []vitals.Finding) {
	for _, one := range []struct{ key, address string }{
		{"listen", d.settings.Listen}, {"pages_listen", d.settings.PagesListen}, {"operator_listen", d.settings.OperatorListen}} {
		if one.address == "" {
			continue
		}
		at := ""
		if d.served != nil {
			at = d.served.Listening[one.key]
		}
		listener, err := (&net.ListenConfig{}).Listen(ctx, "tcp", one.address)
		switch {
		case d.served != nil && (err == nil || samePort(at, one.address)) && !sameAddress(at, one.address):
			elsewhere := "does not listen there"
			if at != "" {
				elsewhere = "listens on " + at
			}
			findings = append(findings, warning(one.key, "the settings have "+one.address+", and the running server "+elsewhere, "The settings were changed since it started.", "start the server again")...)
		case err == nil:
			findings = append(findings, well(one.key, "%s is free", one.address)...)
		case errors.Is(err, syscall.EADDRINUSE) && d.served != nil && samePort(at, one.address):
			findings = append(findings, well(one.key, "%s is this server's (%s)", one.address, d.served)...)
		case errors.Is(err, syscall.EADDRINUSE):
			findings = append(findings, failing(one.key, one.address+" is in use by another program", "The server cannot start.", "see with ss -ltnp which it is, and stop it; or give "+one.key+" another port")...)
		case errors.Is(err, syscall.EACCES):
			findings = append(findings, failing(one.key, one.address+": this user may not listen there", "Ports below 1024 are for who has the capability CAP_NET_BIND_SERVICE.",
				"take a port from 1024 on, or give the unit AmbientCapabilities=CAP_NET_BIND_SERVICE")...)
		case errors.Is(err, syscall.EADDRNOTAVAIL):
			findings = append(findings, failing(one.key, one.address+" is no address of this machine", "The server cannot start.", "see with ip address which addresses it has")...)
		default:
			findings = append(findings, failing(one.key, err.Error(), "The server cannot start.", "put that right")...)
		}
		if listener != nil {
			_ = listener.Close()
		}
	}
	return findings
}

// reached: addresses for others lead to where others reach the server.
func (d *doctor) reached(context.Context) []vitals.Finding {
	s := d.settings
	others := slices.DeleteFunc(s.Hosts(), func(host string) bool { return settings.IsLoopback(net.JoinHostPort(host, "1")) })
	if !settings.IsLoopback(s.Listen) || len(others) == 0 {
		return nil
	}
	_, port, _ := net.SplitHostPort(s.Listen)
	means, next := "Clients elsewhere reach the server only where something on this machine forwards to it.", "listen: :"+port+", unless something does"
	if s.Way() == transport.None {
		means += " It speaks without TLS, and the codes of found and invite hold no pin, so that clients elsewhere do not trust it."
		next += " and has a certificate"
	}
	return warning("public-addresses", "listen is "+s.Listen+", which nobody reaches by "+strings.Join(others, ", "), means, next)
}

func samePort(a, b string) bool {
	_, one, errA := net.SplitHostPort(a)
	_, other, errB := net.SplitHostPort(b)
	return errA == nil && errB == nil && (one == other || other == "0")
}

// certificates: they fit, last, are for the names, and lead to an authority.
func (d *doctor) certificates(context.Context) []vitals.Finding {
	s := d.settings
	switch s.Way() {
	case transport.Own:
		authority, err := transport.OpenAuthority(s.TLSFolder(), d.now)
		if errors.Is(err, fs.ErrNotExist) || err != nil && strings.Contains(err.Error(), "there is no authority") {
			return well("certificate", "the server makes its authority in %s when it starts", s.TLSFolder())
		}
		if err != nil {
			return failing("certificate", err.Error(), "The server does not start.", "put that right, or restore the folder from a copy")
		}
		ends, err := authority.Ends()
		switch left := ends.Sub(d.now()); {
		case err != nil:
			return failing("certificate", err.Error(), "The server does not start.", "restore the folder from a copy")
		case left <= 0:
			return failing("certificate", "the server's authority ended "+ends.UTC().Format(time.DateOnly), "Every client refuses to connect.", renewal(s)+"; every device has to be invited anew")
		case left < 365*day:
			return warning("certificate", "the server's authority ends "+ends.UTC().Format(time.DateOnly), "Then every client refuses to connect.", renewal(s))
		}
		return well("certificate", "the server's own authority, good until %s", ends.UTC().Format(time.DateOnly))
	case transport.ACME:
		return well("certificate", "asked for by ACME for %s; health tells when it ends", strings.Join(s.Hosts(), ", "))
	case transport.Files:
		return d.certificateFiles()
	}
	return well("certificate", "none: the server is for this machine only")
}

// certificateFiles looks at a certificate of the operator's.
func (d *doctor) certificateFiles() []vitals.Finding {
	s := d.settings
	pair, err := tls.LoadX509KeyPair(s.TLSCert, s.TLSKey)
	if err != nil {
		return failing("certificate", fmt.Sprintf("%s and %s: %v", s.TLSCert, s.TLSKey, err), "The server does not start.", "give a certificate chain and its key, both PEM")
	}
	switch left := pair.Leaf.NotAfter.Sub(d.now()); {
	case left <= 0:
		return failing("certificate", s.TLSCert+" ended "+pair.Leaf.NotAfter.UTC().Format(time.DateOnly), "Clients and browsers refuse to connect.", renewal(s))
	case d.now().Before(pair.Leaf.NotBefore):
		return failing("certificate", s.TLSCert+" is good only from "+pair.Leaf.NotBefore.UTC().Format(time.DateOnly), "Clients refuse to connect until then.", "look whether the clock is right")
	case left < endsSoon:
		return warning("certificate", fmt.Sprintf("%s ends in %.0f days", s.TLSCert, left.Hours()/24), "Then clients and browsers refuse to connect.", renewal(s))
	}
	for _, host := range s.Hosts() {
		if pair.Leaf.VerifyHostname(host) != nil {
			return failing("certificate", s.TLSCert+" is not for "+host, "Clients that call "+host+" refuse to connect.", "get one for all of public_addresses, or take the name out there")
		}
	}
	chain := x509.NewCertPool()
	for _, der := range pair.Certificate[1:] {
		if one, err := x509.ParseCertificate(der); err == nil {
			chain.AddCert(one)
		}
	}
	if _, err := pair.Leaf.Verify(x509.VerifyOptions{Intermediates: chain, CurrentTime: d.now()}); err != nil {
		return warning("certificate", fmt.Sprintf("%s does not lead to an authority that this system trusts (%v)", s.TLSCert, err), "Clients need --ca-file, and browsers warn.",
			"if the authority is a public one, put its intermediate certificates below the certificate in the file")
	}
	return well("certificate", "%s, good until %s", s.TLSCert, pair.Leaf.NotAfter.UTC().Format(time.DateOnly))
}

// mail: the mail server answers, under TLS, and lets the server in.
func (d *doctor) mail(ctx context.Context) []vitals.Finding {
	s := d.settings
	if s.SMTPServer == "" {
		return well("mail", "no mail server is set up, and no e-mail is sent")
	}
	mailer, err := mailerOf(s)
	if err == nil {
		err = mailer.Greet(ctx)
	}
	if err != nil {
		return failing("mail", s.SMTPServer+": "+err.Error(), "No member gets e-mail.", "see smtp_server, smtp_security, smtp_user and smtp_password_file, and whether this machine may reach that port")
	}
	return well("mail", "%s answers (%s)", s.SMTPServer, s.SMTPSecurity)
}

// traces: somebody listens where spans are sent to.
func (d *doctor) traces(ctx context.Context) []vitals.Finding {
	endpoint := tracing.Endpoint()
	if endpoint == "" {
		return well("traces", "not sent: OTEL_EXPORTER_OTLP_ENDPOINT is not set")
	}
	host := endpoint
	if at, err := url.Parse(endpoint); err == nil && at.Host != "" {
		host = at.Host
	}
	if _, _, err := net.SplitHostPort(host); err != nil {
		host = net.JoinHostPort(host, "4317") // the port of OTLP over gRPC
	}
	ctx, cancel := context.WithTimeout(ctx, 5*time.Second)
	defer cancel()
	conn, err := (&net.Dialer{}).DialContext(ctx, "tcp", host)
	if err != nil {
		return warning("traces", fmt.Sprintf("nobody listens at %s: %v", host, err), "Calls are answered, and their spans are lost.", "start the receiver, or take OTEL_EXPORTER_OTLP_ENDPOINT out")
	}
	_ = conn.Close()
	return well("traces", "%s listens", host)
}

// tiles: the settings have looked at the form of the address. Whose they are is not asked over the network.
func (d *doctor) tiles(context.Context) []vitals.Finding {
	if d.settings.TilesAddress == "" {
		return well("tiles", "maps have no ground of their own")
	}
	return well("tiles", "browsers of members fetch them from %s", hostOf(d.settings))
}

func hostOf(s settings.Server) string {
	at, err := url.Parse(strings.NewReplacer("{z}", "1", "{x}", "1", "{y}", "1").Replace(s.TilesAddress))
	if err != nil {
		return s.TilesAddress
	}
	return at.Host
}
