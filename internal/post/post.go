// Package post hands e-mail to a mail server, by SMTP.
package post

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net/mail"
	"regexp"
	"strings"
	"sync"
	"time"

	gomail "github.com/wneessen/go-mail"
)

// Message is one e-mail to one person.
type Message struct {
	// ID is the left part of its Message-ID: the same each time that it is tried, so that a mail program shows one that came
	// twice once.
	ID string
	// Name and Address are whom it is for.
	Name, Address string
	Subject, Text string
	// At is when it was written.
	At          time.Time
	Attachments []Attachment
}

// Attachment is a file that goes along.
type Attachment struct {
	Name, Type string
	Content    []byte
}

// RefusedError is why a mail server did not take a message.
type RefusedError struct {
	// For good tells that trying again is of no use: the server refused this very message.
	ForGood bool
	// What it said, without addresses.
	What string
}

// Error is what the mail server said.
func (e *RefusedError) Error() string { return e.What }

// Security is how the way to the mail server is kept from others.
type Security string

const (
	// StartTLS begins in plain text and goes on under TLS (RFC 3207); a server that does not offer it gets nothing.
	StartTLS Security = "starttls"
	// TLS is there from the first byte on (RFC 8314, 3.3).
	TLS Security = "tls"
	// None is plain text, for a mail server on this machine.
	None Security = "none"
)

// Config says which mail server takes the messages, and how.
type Config struct {
	Host     string
	Port     int
	Security Security
	// User and Password sign in; empty: nobody does.
	User, Password string
	// From is the sender: "Marrowdale Road Club <rides@marrowdale.example>".
	From string
	// Timeout bounds each step of handing over.
	Timeout time.Duration
	// Roots are the authorities trusted; nil: those of the system.
	Roots *x509.CertPool
}

// SMTP hands messages to a mail server.
type SMTP struct {
	config Config
	from   *mail.Address
	domain string
}

// New holds a configuration against what it must be.
func New(config Config) (*SMTP, error) {
	from, err := mail.ParseAddress(config.From)
	if err != nil {
		return nil, fmt.Errorf("%q is not the address of a sender (%w): write \"Club name <rides@club.example>\"", config.From, err)
	}
	_, domain, _ := strings.Cut(from.Address, "@")
	s := &SMTP{config: config, from: from, domain: domain}
	if _, err := s.client(); err != nil {
		return nil, err
	}
	return s, nil
}

func (s *SMTP) client() (*gomail.Client, error) {
	c := s.config
	options := []gomail.Option{gomail.WithPort(c.Port), gomail.WithTimeout(c.Timeout), gomail.WithHELO(helo(s.domain)),
		gomail.WithTLSConfig(&tls.Config{ServerName: c.Host, RootCAs: c.Roots, MinVersion: tls.VersionTLS12})} // many mail servers have no 1.3 yet
	switch c.Security {
	case TLS:
		options = append(options, gomail.WithSSL())
	case None:
		options = append(options, gomail.WithTLSPolicy(gomail.NoTLS))
	default:
		options = append(options, gomail.WithTLSPolicy(gomail.TLSMandatory))
	}
	if c.User != "" {
		options = append(options, gomail.WithSMTPAuth(gomail.SMTPAuthAutoDiscover), gomail.WithUsername(c.User), gomail.WithPassword(c.Password))
	}
	return gomail.NewClient(c.Host, options...)
}

// helo is what this machine calls itself: the sender's domain.
func helo(domain string) string {
	if domain == "" {
		return "localhost"
	}
	return domain
}

// Send hands a message over; nil means that the mail server has taken it. The error is a *RefusedError.
func (s *SMTP) Send(ctx context.Context, m Message) error {
	made, err := s.compose(m)
	if err != nil {
		return &RefusedError{ForGood: true, What: bare(err)}
	}
	client, err := s.client()
	if err != nil {
		return &RefusedError{What: bare(err)}
	}
	if err := client.DialAndSendWithContext(ctx, made); err != nil {
		return refused(err)
	}
	return nil
}

// Greet connects, signs in where somebody does, and asks for nothing but an answer (NOOP, RFC 5321, 4.1.1.9). No message is sent. The
// error is a *RefusedError.
func (s *SMTP) Greet(ctx context.Context) error {
	client, err := s.client()
	if err != nil {
		return &RefusedError{What: bare(err)}
	}
	ctx, cancel := context.WithTimeout(ctx, s.config.Timeout)
	defer cancel()
	if err := client.DialWithContext(ctx); err != nil { // ends with NOOP
		return refused(err)
	}
	_ = client.Close() // it has answered
	return nil
}

// compose makes the MIME message (RFC 5322, RFC 2045 to 2049).
func (s *SMTP) compose(m Message) (*gomail.Msg, error) {
	made := gomail.NewMsg(gomail.WithNoDefaultUserAgent())
	made.FromMailAddress(s.from)
	made.ToMailAddress(&mail.Address{Name: m.Name, Address: m.Address})
	made.Subject(m.Subject)
	made.SetMessageIDWithValue(m.ID + "@" + helo(s.domain))
	made.SetDateWithValue(m.At)
	made.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834: no answers from machines
	made.SetBodyString(gomail.TypeTextPlain, m.Text)
	for _, file := range m.Attachments {
		if err := made.AttachReader(file.Name, bytes.NewReader(file.Content), gomail.WithFileContentType(gomail.ContentType(file.Type))); err != nil {
			return nil, err
		}
	}
	if _, err := mail.ParseAddress(m.Address); err != nil {
		return nil, fmt.Errorf("the e-mail address is not one: %w", err)
	}
	return made, nil
}

// refused tells a refusal for good from one that may pass. A reply that begins with 5 is for good (RFC 5321, 4.2.1); one to
// the greeting or to signing in is about the server, not about the message.
func refused(err error) *RefusedError {
	var send *gomail.SendError
	if errors.As(err, &send) && !send.IsTemp() && send.ErrorCode() >= 500 {
		return &RefusedError{ForGood: true, What: bare(err)}
	}
	return &RefusedError{What: bare(err)}
}

var (
	address = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`<?[^\s<>@"]+@[^\s<>@"]+>?`) })
	spaces  = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\s+`) })
)

// maxWhat is how much is kept of what a mail server says, in bytes.
const maxWhat = 300

// bare is an error without addresses, on one line, and short.
func bare(err error) string {
	said := spaces().ReplaceAllString(address().ReplaceAllString(strings.ToValidUTF8(err.Error(), "?"), "(address)"), " ")
	if len(said) > maxWhat {
		said = strings.ToValidUTF8(said[:maxWhat], "") + "…"
	}
	return said
}
