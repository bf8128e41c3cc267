package daemon_test

import (
	"context"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"gritward/internal/daemon"
	answering "gritward/internal/server"
	"gritward/internal/vitals"
)

// TestServeOperatorPages: metrics and health are at their paths, to be read only, and an address that is taken is told.
func TestServeOperatorPages(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	board := &vitals.Board{Now: time.Now, Checks: []vitals.Check{func(context.Context) vitals.Finding { return vitals.Well("store", "open") }}}
	at, err := daemon.ServeOperatorPages(ctx, answering.NewCounters(), board)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		method, path string
		status       int
		says         string
	}{{"GET", "/metrics", 200, "# TYPE gritward"}, {"POST", "/metrics", 405, ""}, {"GET", "/", 200, "/healthz"}, {"GET", "/metrics/x", 404, ""},
		{"GET", "/healthz", 200, "ok      store: open"}, {"GET", "/healthz?json", 200, `"state":"ok"`}, {"PUT", "/healthz", 405, ""}} {
		request, err := http.NewRequestWithContext(t.Context(), row.method, "http://"+at.String()+row.path, nil)
		if err != nil {
			t.Fatal(err)
		}
		answer, err := http.DefaultClient.Do(request)
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(answer.Body)
		_ = answer.Body.Close()
		if answer.StatusCode != row.status || err != nil || !strings.Contains(string(body), row.says) {
			t.Errorf("%s %s: %s, %v: %.300s", row.method, row.path, answer.Status, err, body)
		}
	}
	data, _ := founded(t)
	if code, _, errOut := run(t, "serve", "--data", data, "--listen", "127.0.0.1:0", "--operator-listen", at.String()); code != 1 || !strings.Contains(errOut, "for the operator") {
		t.Errorf("the address is taken: exit %d, %s", code, errOut)
	}
	if conn, err := net.Dial("tcp", at.String()); err != nil {
		t.Errorf("it does not listen: %v", err)
	} else {
		_ = conn.Close()
	}
}
