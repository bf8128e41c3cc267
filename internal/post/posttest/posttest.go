// Package posttest is a mail server for tests: a real one on this machine, by another library than the one that sends.
package posttest

import (
	"crypto/tls"
	"io"
	"net"
	"sync"
	"testing"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
)

// Server is a mail server on loopback.
type Server struct {
	// Address is where it listens, host:port.
	Address string

	mu       sync.Mutex
	taken    []Taken
	answer   func(Taken) error
	sessions int
}

// Taken is a message as it came.
type Taken struct {
	From, To, User string
	TLS            bool
	Data           []byte
}

// Options say how the server behaves.
type Options struct {
	// TLS is offered; with Implicit it is there from the first byte on.
	TLS      *tls.Config
	Implicit bool
	// User and Password must sign in; empty: nobody has to.
	User, Password string
	// Answer is what it says to a message, before it is taken; nil: every one is taken.
	Answer func(Taken) error
}

// Start starts a server that ends with the test.
func Start(t testing.TB, options Options) *Server {
	t.Helper()
	s := &Server{answer: options.Answer}
	served := smtp.NewServer(smtp.BackendFunc(func(conn *smtp.Conn) (smtp.Session, error) {
		s.mu.Lock()
		defer s.mu.Unlock()
		s.sessions++
		return &session{server: s, conn: conn, options: options}, nil
	}))
	served.Domain, served.TLSConfig, served.AllowInsecureAuth = "mail.example", options.TLS, true
	served.ErrorLog = quiet{}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	s.Address = listener.Addr().String()
	if options.Implicit {
		listener = tls.NewListener(listener, options.TLS)
		served.TLSConfig = nil
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		_ = served.Serve(listener)
	}()
	t.Cleanup(func() {
		_ = served.Close()
		_ = listener.Close() // where it had not begun to serve
		<-done
	})
	return s
}

// Answers changes what the server says to messages.
func (s *Server) Answers(answer func(Taken) error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.answer = answer
}

// Taken are the messages taken so far.
func (s *Server) Taken() []Taken {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]Taken(nil), s.taken...)
}

// Sessions is how many connections came.
func (s *Server) Sessions() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.sessions
}

type quiet struct{}

func (quiet) Printf(string, ...any) {}
func (quiet) Println(...any)        {}

type session struct {
	server  *Server
	conn    *smtp.Conn
	options Options
	mail    Taken
}

func (s *session) AuthMechanisms() []string {
	if s.options.User == "" {
		return nil
	}
	return []string{sasl.Plain}
}

func (s *session) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		if user != s.options.User || password != s.options.Password {
			return smtp.ErrAuthFailed
		}
		s.mail.User = user
		return nil
	}), nil
}

func (s *session) Mail(from string, _ *smtp.MailOptions) error {
	if s.options.User != "" && s.mail.User == "" {
		return smtp.ErrAuthRequired
	}
	s.mail.From = from
	return nil
}

func (s *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	s.mail.To = to
	return nil
}

func (s *session) Data(r io.Reader) (err error) {
	if s.mail.Data, err = io.ReadAll(r); err != nil {
		return err
	}
	_, s.mail.TLS = s.conn.TLSConnectionState()
	if _, secret := s.conn.Conn().(*tls.Conn); secret {
		s.mail.TLS = true
	}
	s.server.mu.Lock()
	answer := s.server.answer
	s.server.mu.Unlock()
	if answer != nil {
		if err := answer(s.mail); err != nil {
			return err
		}
	}
	s.server.mu.Lock()
	defer s.server.mu.Unlock()
	s.server.taken = append(s.server.taken, s.mail)
	return nil
}

func (s *session) Reset() { s.mail.From, s.mail.To, s.mail.Data = "", "", nil }

func (s *session) Logout() error { return nil }
