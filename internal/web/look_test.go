package web

import (
	"net/http"
	"net/http/httptest"
	"testing"
)

// TestToldToTheLog: a log names the page that failed, without what lets its reader in.
func TestToldToTheLog(t *testing.T) {
	t.Parallel()
	for path, want := range map[string]string{
		"/join/abcdef": "GET /join/{code}", "/shared/marrowdale.abcdef": "GET /shared/{key}", "/clubs/marrowdale/rides": "/clubs/marrowdale/rides",
	} {
		var got string
		mux := http.NewServeMux()
		for _, pattern := range []string{"GET /join/{code}", "GET /shared/{key}", "GET /clubs/{club}/rides"} {
			mux.HandleFunc(pattern, func(_ http.ResponseWriter, r *http.Request) { got = told(r) })
		}
		mux.ServeHTTP(httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, path, nil))
		if got != want {
			t.Errorf("%s is told as %s, want %s", path, got, want)
		}
	}
}
