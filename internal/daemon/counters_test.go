package daemon_test

import (
	"context"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"

	"gritward/internal/daemon"
	answering "gritward/internal/server"
)

// TestServeCounters: the counters are at their one path, to be read only; nothing listens where none are asked for, and an address
// that is taken is told.
func TestServeCounters(t *testing.T) {
	if at, err := daemon.ServeCounters(t.Context(), "", nil); at != nil || err != nil {
		t.Errorf("%v, %v", at, err)
	}
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	at, err := daemon.ServeCounters(ctx, "127.0.0.1:0", answering.NewCounters())
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		method, path string
		status       int
	}{{"GET", "/metrics", 200}, {"POST", "/metrics", 405}, {"GET", "/", 404}, {"GET", "/metrics/x", 404}} {
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
		if answer.StatusCode != row.status || err != nil || row.status == 200 && !strings.Contains(string(body), "# TYPE gritward") {
			t.Errorf("%s %s: %s, %v: %.300s", row.method, row.path, answer.Status, err, body)
		}
	}
	if _, err := daemon.ServeCounters(ctx, at.String(), answering.NewCounters()); err == nil || !strings.Contains(err.Error(), "for the counters") {
		t.Errorf("the address is taken, and %v", err)
	}
	if conn, err := net.Dial("tcp", at.String()); err != nil {
		t.Errorf("it does not listen: %v", err)
	} else {
		_ = conn.Close()
	}
}
