package vitals

import (
	"encoding/json"
	"net/http"
	"strings"
)

// ServeHTTP tells the report: as text, or as JSON to who asks for it (Accept: application/json, or ?json). The status is 503 where
// the server is failing and 200 otherwise, so that a program need not read further.
func (b *Board) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	report := b.Report(r.Context())
	status := http.StatusOK
	if report.State == Failing {
		status = http.StatusServiceUnavailable
	}
	w.Header().Set("Cache-Control", "no-store")
	if r.URL.Query().Has("json") || strings.Contains(r.Header.Get("Accept"), "application/json") {
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(status)
		_ = json.NewEncoder(w).Encode(report) // who asked is gone
		return
	}
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.WriteHeader(status)
	report.Write(w)
}
