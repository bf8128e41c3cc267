package etcd

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"slices"
	"strings"
	"syscall"
	"time"

	"gritward/internal/store"
)

// preface is what a client of HTTP/2 says first: the preface and empty settings (RFC 9113, 3.4). A server answers it, also one that asks
// for a certificate, which with TLS 1.3 refuses only after the client's side of the handshake is done.
const preface = "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n\x00\x00\x00\x04\x00\x00\x00\x00\x00"

// Reach connects to one of etcd's members as the store does, and tells in words why that does not work, and what to do. Where it works
// it gives the certificates that the member is trusted by, its own first and its authority's last; none in the open.
func Reach(ctx context.Context, address string, way *tls.Config) ([]*x509.Certificate, error) {
	ctx, cancel := context.WithTimeout(ctx, attemptTime)
	defer cancel()
	if _, host, is := strings.Cut(address, "://"); is {
		address = host
	}
	bare, err := (&net.Dialer{}).DialContext(ctx, "tcp", address)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be reached: %w: see that etcd runs there, and etcd_endpoints", address, err)
	}
	defer func() { _ = bare.Close() }()
	deadline, _ := ctx.Deadline()
	_ = bare.SetDeadline(deadline)
	if way == nil {
		if _, err = exchange(bare); err != nil {
			return nil, fmt.Errorf("%s takes a connection and does not answer in the open: if it wants TLS (--cert-file), give etcd_ca_file: %w", address, err)
		}
		return nil, nil
	}
	way = way.Clone()
	way.NextProtos = []string{"h2"}
	if way.ServerName == "" {
		way.ServerName, _, _ = net.SplitHostPort(address)
	}
	conn := tls.Client(bare, way)
	if err = conn.HandshakeContext(ctx); err == nil {
		_, err = exchange(conn)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %s", address, refusal(err, way))
	}
	return slices.MaxFunc(conn.ConnectionState().VerifiedChains, func(a, b []*x509.Certificate) int { return firstEnd(a).Compare(firstEnd(b)) }), nil
}

// exchange says the preface and takes the beginning of the answer.
func exchange(conn net.Conn) (int, error) {
	if _, err := io.WriteString(conn, preface); err != nil {
		return 0, err
	}
	return io.ReadFull(conn, make([]byte, 9)) // the head of a frame
}

// refusal says why TLS with a member did not come about.
func refusal(err error, way *tls.Config) string {
	var unknown x509.UnknownAuthorityError
	var name x509.HostnameError
	var invalid x509.CertificateInvalidError
	var record tls.RecordHeaderError
	var alert tls.AlertError
	switch {
	case errors.As(err, &unknown):
		return "its certificate is not from an authority in etcd_ca_file: put the certificate of the authority that signed it there"
	case errors.As(err, &name):
		return fmt.Sprintf("its certificate is not for %s but for %s: name it in etcd_endpoints as its certificate does, or give it one for that name", way.ServerName, namesIn(name.Certificate))
	case errors.As(err, &invalid) && invalid.Reason == x509.Expired:
		return fmt.Sprintf("its certificate is good from %s to %s: renew it, or see the clock of this machine", day(invalid.Cert.NotBefore), day(invalid.Cert.NotAfter))
	case errors.As(err, &record), errors.Is(err, io.EOF), errors.Is(err, syscall.ECONNRESET):
		return "it ends the connection where TLS begins, so it speaks in the open, or is no etcd: start it with --cert-file and --key-file, or take etcd_ca_file out where the network is your own"
	case refusedBy(err, &alert) && len(way.Certificates) == 0:
		return "it asks for a certificate: give etcd_cert and etcd_key, from the authority in its --trusted-ca-file"
	case refusedBy(err, &alert):
		return fmt.Sprintf("it does not take the certificate of etcd_cert (%v): that must be from the authority in its --trusted-ca-file, for clients, and in date", err)
	}
	return err.Error()
}

// refusedBy tells whether the other end refused.
func refusedBy(err error, alert *tls.AlertError) bool {
	var remote *net.OpError
	return errors.As(err, alert) || errors.As(err, &remote) && remote.Op == "remote error"
}

// namesIn are the names and addresses that a certificate is for.
func namesIn(cert *x509.Certificate) string {
	names := append([]string{}, cert.DNSNames...)
	for _, ip := range cert.IPAddresses {
		names = append(names, ip.String())
	}
	if len(names) == 0 {
		return "nothing"
	}
	return strings.Join(names, ", ")
}

func day(at time.Time) string { return at.UTC().Format("2006-01-02 15:04 UTC") }

// unopened is an error about an etcd that cannot be used, in the words of why; it is the error that it came from still.
type unopened struct {
	why string
	error
}

func (u *unopened) Error() string { return u.why }
func (u *unopened) Unwrap() error { return u.error }

// explained tells of each member why it cannot be reached, where that is why nothing came of opening the store.
func (s *Store) explained(ctx context.Context, err error) error {
	var why []string
	for _, address := range s.Endpoints {
		if _, err := Reach(ctx, address, s.TLS); err != nil {
			why = append(why, err.Error())
		}
	}
	if len(why) == 0 || !errors.Is(err, store.ErrUnreachable) {
		return fmt.Errorf("store: %s: %w", s.Where(), err)
	}
	return &unopened{"store: etcd cannot be used: " + strings.Join(why, "; "), err}
}
