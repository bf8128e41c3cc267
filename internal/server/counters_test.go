package server_test

import (
	"fmt"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"

	"gritward/internal/server"
	pb "gritward/proto/gritward/v1"
)

// TestCounters reads the counters with the format's own parser: each refusal by its reason, calls by method and code,
// and never more series than the protocol has words, whatever a stranger sends.
func TestCounters(t *testing.T) {
	w := limitedWorld(t, server.Limits{FailedSignInsMin: 3})
	if _, err := w.clubs.GetMember(w.as("sec"), &pb.GetMemberRequest{Name: club + "/members/none"}); reasonIn(err) != "NOT_FOUND" {
		t.Fatal(told(err))
	}
	stranger := w.newConn()
	for i := range 10 {
		w.who(stranger, fmt.Sprint("fenwick.secret-guess-", i))
	}
	for i := range 50 { // methods that are not there
		_ = stranger.Invoke(w.ctx, fmt.Sprintf("/gritward.v1.ClubService/Made%d", i), &pb.WhoAmIRequest{}, &pb.WhoAmIResponse{})
	}
	got := httptest.NewRecorder()
	w.counters.Handler().ServeHTTP(got, httptest.NewRequest("GET", "/metrics", nil))
	text, _, _ := strings.Cut(got.Body.String(), "# HELP go_")
	text, _, _ = strings.Cut(text, "# HELP process_")
	parser := expfmt.NewTextParser(model.UTF8Validation)
	families, err := parser.TextToMetricFamilies(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	values, series := map[string]float64{}, 0
	for name, family := range families {
		if !strings.HasPrefix(name, "gritward_") {
			continue // of the process
		}
		for _, metric := range family.GetMetric() {
			series++
			for _, label := range metric.GetLabel() {
				name += " " + label.GetValue()
			}
			values[name] = metric.GetCounter().GetValue()
			name = family.GetName()
		}
	}
	for name, want := range map[string]float64{
		"gritward_refused_total NOT_FOUND": 1, "gritward_refused_total NOT_SIGNED_IN": 3, "gritward_refused_total TOO_MANY_SIGN_INS": 57,
		"gritward_calls_total ClubService/GetMember NotFound": 1, "gritward_calls_total ClubService/AcceptInvite OK": 1,
		"gritward_connections_closed_total": 0,
	} {
		if value, there := values[name]; !there || value != want {
			t.Errorf("%s is %v, want %v\n%s", name, value, want, text)
		}
	}
	if series > 15 || strings.Contains(text, "Made") || strings.Contains(text, "secret-guess") || strings.Contains(text, "members") {
		t.Errorf("%d series:\n%s", series, text)
	}
}
