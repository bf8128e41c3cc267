package vitals_test

import (
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"gritward/internal/vitals"
)

func TestBoard(t *testing.T) {
	now, looked := time.Date(2026, 12, 11, 19, 0, 0, 0, time.UTC), 0
	disk := vitals.Well("disk", "3 GiB free")
	board := &vitals.Board{Fresh: 10 * time.Second, Now: func() time.Time { return now }, Checks: []vitals.Check{
		func(context.Context) vitals.Finding { return vitals.Well("store", "open") },
		func(context.Context) vitals.Finding { looked++; return disk },
	}}
	ask := func(path, accept string) (*http.Response, string) {
		request := httptest.NewRequest("GET", path, nil)
		request.Header.Set("Accept", accept)
		got := httptest.NewRecorder()
		board.ServeHTTP(got, request)
		return got.Result(), got.Body.String()
	}
	if answer, text := ask("/healthz", ""); answer.StatusCode != 200 || text != "ok\nok      store: open\nok      disk: 3 GiB free\n" {
		t.Errorf("%d\n%s", answer.StatusCode, text)
	}
	disk = vitals.Finding{Check: "disk", State: vitals.Warning, Found: "9 MiB free", Means: "it is soon full", Next: "make room"}
	if _, text := ask("/healthz", ""); looked != 1 || !strings.HasPrefix(text, "ok\n") {
		t.Errorf("looked %d times within the ten seconds: %s", looked, text)
	}
	now = now.Add(10 * time.Second)
	if answer, text := ask("/healthz", "text/plain"); answer.StatusCode != 200 ||
		text != "warning\nok      store: open\nwarning disk: 9 MiB free\n        it is soon full\n        next: make room\n" {
		t.Errorf("%d\n%s", answer.StatusCode, text)
	}
	now, disk.State = now.Add(-time.Hour), vitals.Failing // a clock put back is no reason to wait an hour
	for _, way := range [][2]string{{"/healthz?json", ""}, {"/healthz", "application/json"}} {
		answer, text := ask(way[0], way[1])
		var report vitals.Report
		if err := json.Unmarshal([]byte(text), &report); err != nil || answer.StatusCode != 503 || report.State != vitals.Failing ||
			len(report.Findings) != 2 || report.Findings[1] != disk {
			t.Errorf("%d, %v: %s", answer.StatusCode, err, text)
		}
	}
}

func TestSum(t *testing.T) {
	for _, row := range []struct {
		states []vitals.State
		want   vitals.State
	}{{nil, vitals.OK}, {[]vitals.State{vitals.OK, vitals.Failing, vitals.Warning}, vitals.Failing}, {[]vitals.State{vitals.Warning, vitals.OK}, vitals.Warning}} {
		var findings []vitals.Finding
		for _, state := range row.states {
			findings = append(findings, vitals.Finding{State: state})
		}
		if got := vitals.Sum(findings).State; got != row.want {
			t.Errorf("%v sum to %s", row.states, got)
		}
	}
}
