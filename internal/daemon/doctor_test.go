package daemon_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"gritward/internal/post/posttest"
	"gritward/internal/vitals"
)

// examined runs the doctor, and gives what was found of one check.
func examined(t *testing.T, check string, args ...string) vitals.Finding {
	t.Helper()
	code, out, errOut := run(t, append([]string{"doctor", "--json"}, args...)...)
	var report vitals.Report
	if err := json.Unmarshal([]byte(out), &report); err != nil {
		t.Fatalf("%v: %s%s", err, out, errOut)
	}
	if failing := report.State == vitals.Failing; failing != (code == 1) || code > 1 {
		t.Errorf("exit %d for %s", code, report.State)
	}
	for _, f := range report.Findings {
		if f.State != vitals.OK && (f.Found == "" || f.Means == "" || f.Next == "") {
			t.Errorf("it is not said what was found, what it means and what to do: %+v", f)
		}
		if f.Check == check {
			return f
		}
	}
	t.Fatalf("nothing was found of %s: %s", check, out)
	return vitals.Finding{}
}

// TestDoctorsCertificates: a certificate that ended, ends soon, is for another name, or leads to nobody whom the system trusts.
func TestDoctorsCertificates(t *testing.T) {
	data, _ := founded(t)
	for _, row := range []struct {
		left  time.Duration
		host  string
		state vitals.State
		found string
	}{
		{-time.Hour, "localhost", vitals.Failing, " ended "},
		{120 * 24 * time.Hour, "localhost", vitals.Failing, " is good only from "}, // by the 90 days that it has
		{5*24*time.Hour + time.Hour, "localhost", vitals.Warning, " ends in 5 days"},
		{60 * 24 * time.Hour, "rides.example", vitals.Failing, " is not for rides.example"},
		{60 * 24 * time.Hour, "localhost", vitals.Warning, "does not lead to an authority that this system trusts"},
	} {
		cert, key := endingAt(t, time.Now().Add(row.left))
		f := examined(t, "certificate", "--data", data, "--listen", "127.0.0.1:0", "--tls-cert", cert, "--tls-key", key, "--public-addresses", row.host)
		if f.State != row.state || !strings.Contains(f.Found, row.found) {
			t.Errorf("%s, %s: %+v", row.left, row.host, f)
		}
	}
}

// TestDoctorsMail asks a real mail server, which gets no message: one that answers, and one that offers no TLS where it is asked for.
func TestDoctorsMail(t *testing.T) {
	data, _ := founded(t)
	server := posttest.Start(t, posttest.Options{})
	args := []string{"--data", data, "--listen", "127.0.0.1:0", "--smtp-server", server.Address, "--smtp-from", "rides@fenwick.example", "--smtp-timeout", "5s"}
	if f := examined(t, "mail", append(args, "--smtp-security", "none")...); f.State != vitals.OK || !strings.Contains(f.Found, "answers (none)") {
		t.Errorf("%+v", f)
	}
	if f := examined(t, "mail", append(args, "--smtp-security", "starttls")...); f.State != vitals.Failing || !strings.Contains(f.Found, "STARTTLS") {
		t.Errorf("%+v", f)
	}
	if server.Sessions() == 0 || len(server.Taken()) != 0 {
		t.Errorf("%d sessions, %d messages", server.Sessions(), len(server.Taken()))
	}
}
