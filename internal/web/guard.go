package web

import (
	"net"
	"net/http"
	"strings"

	"github.com/klauspost/compress/gzhttp"
	"google.golang.org/grpc/metadata"

	"gritward/internal/trail"
)

// policyOfContent is the content security policy of every page (Content Security Policy Level 3): nothing runs, loads or
// is sent anywhere but to this server.
const policyOfContent = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// policyWithPictures is policyOfContent for a page that shows pictures of one other origin too.
func policyWithPictures(origin string) string {
	return strings.Replace(policyOfContent, "img-src 'self'", "img-src 'self' "+origin, 1)
}

// traced gives each request its id, for the log and for the calls that it makes, and tells it to the browser.
func traced(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		id := trail.Pick(r.Header.Values(trail.Header))
		w.Header().Set(trail.Header, id)
		ctx := metadata.AppendToOutgoingContext(trail.With(r.Context(), id), trail.Header, id)
		next.ServeHTTP(w, r.WithContext(ctx))
	})
}

// zipLevel is how hard pages are compressed: half the work of gzip's own level for a twentieth more bytes.
const zipLevel = 3

// zip compresses what a handler answers, for who can take it.
func zip(next http.Handler) http.Handler {
	wrap, err := gzhttp.NewWrapper(gzhttp.CompressionLevel(zipLevel))
	if err != nil {
		panic(err) // of the options, which stand here
	}
	return wrap(next)
}

// guarded puts before all pages what holds for each: headers, whose pages these are, forgery, and compression.
func (s *site) guarded(next http.Handler) http.Handler {
	forgery := http.NewCrossOriginProtection()
	forgery.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.plain(w, r, http.StatusForbidden, "This form was sent from another site",
			"Nothing was done. Open the page here, and fill the form in there.")
	}))
	zipped := zip(forgery.Handler(next))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policyOfContent)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=(), payment=(), usb=()")
		h.Set("Cache-Control", "private, no-cache") // so that going back finds what was typed
		if s.secure {
			h.Set("Strict-Transport-Security", "max-age=31536000")
		}
		if !s.ours(r.Host) {
			http.Error(w, "these pages are at "+s.Address, http.StatusMisdirectedRequest)
			return
		}
		if !legibleAddress(r) {
			s.plain(w, r, http.StatusBadRequest, "Not found", "There is no such page.")
			return
		}
		zipped.ServeHTTP(w, r)
	})
}

// ours tells whether a browser asked for these pages by their name. On this machine alone, any name of it will do.
func (s *site) ours(host string) bool {
	if strings.EqualFold(host, s.host) {
		return true
	}
	name, port, err := net.SplitHostPort(host)
	_, own, ownErr := net.SplitHostPort(s.host)
	if err != nil || ownErr != nil || port != own || s.secure {
		return false
	}
	return name == "localhost" || name == "127.0.0.1" || name == "::1"
}

// remote is the address that a request comes from.
func (s *site) remote(r *http.Request) string {
	if s.Proxied {
		if said := r.Header.Values("X-Forwarded-For"); len(said) > 0 {
			all := strings.Split(said[len(said)-1], ",")
			return strings.TrimSpace(all[len(all)-1]) // what comes before, the browser may have said
		}
	}
	return r.RemoteAddr
}
