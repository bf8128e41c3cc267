package endpoint_test

import (
	"crypto/x509"
	"io"
	"log"
	"net/http"
	"net/http/httptest"
	"os"
	"sync"
	"testing"
	"time"

	"gritward/internal/forecast/endpoint"
)

var evening = time.Date(2026, 12, 11, 19, 0, 0, 0, time.UTC)

// service is a real HTTPS server on loopback that answers as a test says, and an endpoint that asks it.
type service struct {
	*httptest.Server
	t        *testing.T
	endpoint *endpoint.Endpoint

	mu      sync.Mutex
	now     time.Time
	answers http.HandlerFunc
	asked   []*http.Request
}

func newService(t *testing.T) *service {
	s := &service{t: t, now: evening, answers: serve(sample(t), nil)}
	s.Server = httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.mu.Lock()
		s.asked = append(s.asked, r)
		answers := s.answers
		s.mu.Unlock()
		answers(w, r)
	}))
	s.Config.ErrorLog = log.New(io.Discard, "", 0) // refused handshakes are part of the tests
	s.StartTLS()
	t.Cleanup(s.Close)
	s.endpoint = s.newEndpoint(5*time.Second, s.roots())
	return s
}

func (s *service) roots() *x509.CertPool {
	roots := x509.NewCertPool()
	roots.AddCert(s.Certificate())
	return roots
}

func (s *service) newEndpoint(timeout time.Duration, roots *x509.CertPool) *endpoint.Endpoint {
	s.t.Helper()
	made, err := endpoint.New(endpoint.Config{URL: s.URL + "/point?form=compact", UserAgent: "marrowdale.example secretary@marrowdale.example",
		Timeout: timeout, Roots: roots, Now: s.clock})
	if err != nil {
		s.t.Fatal(err)
	}
	return made
}

func (s *service) clock() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.now
}

func (s *service) after(wait time.Duration, answers http.HandlerFunc) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.now, s.answers = s.now.Add(wait), answers
}

func (s *service) fetch() (*endpoint.Answer, error) {
	return s.endpoint.Fetch(s.t.Context(), 54.0850012, -2.2849987)
}

// got fetches what must succeed.
func (s *service) got() *endpoint.Answer {
	s.t.Helper()
	answer, err := s.fetch()
	if err != nil {
		s.t.Fatal(err)
	}
	return answer
}

// requests is how often the service was asked.
func (s *service) requests() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.asked)
}

func sample(t testing.TB) []byte {
	t.Helper()
	data, err := os.ReadFile("../../../testdata/forecast/marrowdale.json")
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// serve answers with a body and headers.
func serve(body []byte, headers map[string]string) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/json")
		for name, value := range headers {
			w.Header().Set(name, value)
		}
		_, _ = w.Write(body)
	}
}

// status answers with a status alone.
func status(code int, headers map[string]string) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		for name, value := range headers {
			w.Header().Set(name, value)
		}
		w.WriteHeader(code)
	}
}
