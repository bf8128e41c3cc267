package post_test

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"errors"
	"io"
	"math/big"
	"mime"
	"net"
	"net/mail"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-smtp"
	"github.com/jhillyerd/enmime/v2"

	"gritward/internal/post"
	"gritward/internal/post/posttest"
)

// certificate is one for this machine, and the pool that trusts it.
func certificate(t *testing.T) (*tls.Config, *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "mail"}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IsCA: true, BasicConstraintsValid: true}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	made, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AddCert(made)
	return &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}}}, pool
}

func sender(t *testing.T, server string, config post.Config) *post.SMTP {
	t.Helper()
	host, port, err := net.SplitHostPort(server)
	if err != nil {
		t.Fatal(err)
	}
	config.Host = host
	if config.Port, err = strconv.Atoi(port); err != nil {
		t.Fatal(err)
	}
	if config.Timeout == 0 {
		config.Timeout = time.Minute
	}
	if config.From == "" {
		config.From = "Marrowdale Road Club <rides@marrowdale.example>"
	}
	made, err := post.New(config)
	if err != nil {
		t.Fatal(err)
	}
	return made
}

var letter = post.Message{
	ID: "clubs.marrowdale.rides.becks.letters.1", Name: "Zoë Łukasz-Ünal", Address: "zoe@marrowdale.example", At: time.Date(2026, 12, 11, 19, 0, 0, 0, time.UTC),
	Subject: "Four Becks: you ride in Ålesund, Sunday 13 December 2026", Text: "Zoë,\n\nYou ride at −2 °C.\n.\nA line that is a dot alone, and From here on.\n",
	Attachments: []post.Attachment{{Name: "brief-becks-1.txt", Type: "text/plain", Content: []byte("SAFETY BRIEF\n½ h in the dark\n")}},
}

// TestSend hands a message over in each way there is, and has two parsers of others read what came: the standard library's
// net/mail and enmime.
func TestSend(t *testing.T) {
	keys, trusted := certificate(t)
	for name, test := range map[string]struct {
		options posttest.Options
		config  post.Config
	}{
		"plain text on this machine": {posttest.Options{}, post.Config{Security: post.None}},
		"STARTTLS":                   {posttest.Options{TLS: keys}, post.Config{Security: post.StartTLS, Roots: trusted}},
		"TLS":                        {posttest.Options{TLS: keys, Implicit: true}, post.Config{Security: post.TLS, Roots: trusted}},
		"signed in": {posttest.Options{TLS: keys, User: "club", Password: "quiet lanes"},
			post.Config{Security: post.StartTLS, Roots: trusted, User: "club", Password: "quiet lanes"}},
	} {
		t.Run(name, func(t *testing.T) {
			server := posttest.Start(t, test.options)
			if err := sender(t, server.Address, test.config).Send(t.Context(), letter); err != nil {
				t.Fatal(err)
			}
			taken := server.Taken()
			if len(taken) != 1 {
				t.Fatalf("%d messages came", len(taken))
			}
			got := taken[0]
			if got.From != "rides@marrowdale.example" || got.To != letter.Address || got.TLS != (test.config.Security != post.None) || got.User != test.config.User {
				t.Errorf("from %q to %q, TLS %v, by %q", got.From, got.To, got.TLS, got.User)
			}
			envelope, err := enmime.ReadEnvelope(bytes.NewReader(got.Data))
			if err != nil {
				t.Fatal(err)
			}
			if len(envelope.Errors) > 0 {
				t.Errorf("the parser complains: %v", envelope.Errors)
			}
			if envelope.GetHeader("Subject") != letter.Subject || strings.ReplaceAll(envelope.Text, "\r\n", "\n") != letter.Text {
				t.Errorf("subject %q, text %q", envelope.GetHeader("Subject"), envelope.Text)
			}
			if len(envelope.Attachments) != 1 || envelope.Attachments[0].FileName != "brief-becks-1.txt" || !bytes.Equal(envelope.Attachments[0].Content, letter.Attachments[0].Content) {
				t.Errorf("attachments %v", envelope.Attachments)
			}
			plain, err := mail.ReadMessage(bytes.NewReader(got.Data))
			if err != nil {
				t.Fatal(err)
			}
			to, err := plain.Header.AddressList("To")
			if err != nil || len(to) != 1 || to[0].Name != letter.Name {
				t.Errorf("to %v, %v", to, err)
			}
			if at, err := plain.Header.Date(); err != nil || !at.Equal(letter.At) {
				t.Errorf("date %v, %v", at, err)
			}
			if plain.Header.Get("Message-Id") != "<clubs.marrowdale.rides.becks.letters.1@marrowdale.example>" || plain.Header.Get("Auto-Submitted") != "auto-generated" {
				t.Errorf("header %v", plain.Header)
			}
			for line := range bytes.Lines(got.Data) {
				if len(line) > 998+2 { // RFC 5322, 2.1.1
					t.Errorf("a line has %d bytes", len(line))
				}
			}
		})
	}
}

// TestRefused tells what may pass from what will not.
func TestRefused(t *testing.T) {
	keys, trusted := certificate(t)
	_, others := certificate(t)
	says := func(code int, text string) func(posttest.Taken) error {
		return func(posttest.Taken) error { return &smtp.SMTPError{Code: code, Message: text} }
	}
	nobody, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	_ = nobody.Close()
	for name, test := range map[string]struct {
		options posttest.Options
		config  post.Config
		address string
		change  func(*post.Message)
		forGood bool
		want    string
	}{
		"greylisted":            {options: posttest.Options{Answer: says(450, "greylisted, come back in 5 min")}, config: post.Config{Security: post.None}, want: "450"},
		"unknown":               {options: posttest.Options{Answer: says(550, "no such user <zoe@marrowdale.example> here")}, config: post.Config{Security: post.None}, forGood: true, want: "no such user (address) here"},
		"too large":             {options: posttest.Options{Answer: says(552, strings.Repeat("too large ", 100))}, config: post.Config{Security: post.None}, forGood: true, want: "…"},
		"no TLS there":          {config: post.Config{Security: post.StartTLS}, want: "STARTTLS"},
		"another's certificate": {options: posttest.Options{TLS: keys, Implicit: true}, config: post.Config{Security: post.TLS, Roots: others}, want: "certificate"},
		"wrong password": {options: posttest.Options{TLS: keys, User: "club", Password: "right"},
			config: post.Config{Security: post.StartTLS, Roots: trusted, User: "club", Password: "wrong"}, want: "535"},
		"nobody there":      {address: nobody.Addr().String(), config: post.Config{Security: post.None}, want: "refused"},
		"no address":        {config: post.Config{Security: post.None}, change: func(m *post.Message) { m.Address = "zoe" }, forGood: true, want: "not one"},
		"a second receiver": {config: post.Config{Security: post.None}, change: func(m *post.Message) { m.Address = "zoe@a.example, all@b.example" }, forGood: true, want: ""},
	} {
		t.Run(name, func(t *testing.T) {
			server := posttest.Start(t, test.options)
			if test.address == "" {
				test.address = server.Address
			}
			message := letter
			if test.change != nil {
				test.change(&message)
			}
			err := sender(t, test.address, test.config).Send(t.Context(), message)
			var refused *post.RefusedError
			if !errors.As(err, &refused) || refused.ForGood != test.forGood || !strings.Contains(refused.What, test.want) || strings.Contains(refused.What, "marrowdale.example") {
				t.Errorf("got %v", err)
			}
			if len(refused.What) > 310 {
				t.Errorf("%d bytes are kept", len(refused.What))
			}
			if taken := server.Taken(); len(taken) > 0 {
				t.Errorf("%d messages were taken", len(taken))
			}
		})
	}
}

// TestInjection: nothing in a message becomes another header or another receiver.
func TestInjection(t *testing.T) {
	server := posttest.Start(t, posttest.Options{})
	hostile := letter
	hostile.Subject, hostile.Name = "A\r\nBcc: all@b.example\r\n\r\nB", "N\r\nX-Evil: yes"
	hostile.Text = "\r\n.\r\nMAIL FROM:<x@b.example>\r\n"
	if err := sender(t, server.Address, post.Config{Security: post.None}).Send(t.Context(), hostile); err != nil {
		return // refused is as good
	}
	for _, taken := range server.Taken() {
		read, err := mail.ReadMessage(bytes.NewReader(taken.Data))
		if err != nil {
			t.Fatal(err)
		}
		if read.Header.Get("Bcc") != "" || read.Header.Get("X-Evil") != "" || taken.To != letter.Address {
			t.Errorf("header %v, to %s", read.Header, taken.To)
		}
		if word, err := new(mime.WordDecoder).DecodeHeader(read.Header.Get("Subject")); err != nil || !strings.HasPrefix(word, "A") {
			t.Errorf("subject %q, %v", word, err)
		}
	}
	if len(server.Taken()) != 1 {
		t.Errorf("%d messages came", len(server.Taken()))
	}
}

// TestHangs: a mail server that says nothing is left when the time is over.
func TestHangs(t *testing.T) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = listener.Close() })
	ctx, stop := context.WithCancel(t.Context())
	go func() {
		conn, err := listener.Accept()
		if err != nil {
			return
		}
		defer conn.Close()
		stop() // it has connected, and now waits for a greeting that never comes
		_, _ = io.Copy(io.Discard, conn)
	}()
	err = sender(t, listener.Addr().String(), post.Config{Security: post.None, Timeout: time.Second}).Send(ctx, letter)
	var refused *post.RefusedError
	if !errors.As(err, &refused) || refused.ForGood {
		t.Errorf("got %v", err)
	}
}

func TestBadSender(t *testing.T) {
	for _, from := range []string{"", "rides", "a@b, c@d", "x\r\nBcc: y@z"} {
		if _, err := post.New(post.Config{Host: "127.0.0.1", Port: 25, Security: post.None, From: from, Timeout: time.Second}); err == nil {
			t.Errorf("%q is taken for a sender", from)
		}
	}
}
