package daemon_test

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/json"
	"encoding/pem"
	"io/fs"
	"log/slog"
	"math/big"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc/credentials/insecure"

	"gritward/internal/daemon"
	"gritward/internal/ledger"
	"gritward/internal/settings"
	"gritward/internal/store/bolt"
	"gritward/internal/transport"
	"gritward/internal/vitals"
	pb "gritward/proto/gritward/v1"
)

// TestHealthCommand asks a running server, and then one whose store was damaged, and one that is not there.
func TestHealthCommand(t *testing.T) {
	data, invite := founded(t)
	conn := serving(t, insecure.NewCredentials(), "--data", data)
	code, out, errOut := run(t, "health", "--data", data)
	if code != 0 || !strings.HasPrefix(out, "warning\n") || !strings.Contains(out, "no policy is in force in fenwick") || !strings.Contains(out, "next: a secretary adopts one") {
		t.Errorf("exit %d: %s%s", code, out, errOut)
	}
	if err := os.Truncate(data, 0); err != nil {
		t.Fatal(err)
	}
	_, _ = pb.NewClubServiceClient(conn).AcceptInvite(t.Context(), &pb.AcceptInviteRequest{Code: invite, DeviceTitle: "test"}) // comes upon it
	asked := func() (report vitals.Report) {
		code, out, _ = run(t, "health", "--data", data, "--json")
		if err := json.Unmarshal([]byte(out), &report); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		return report
	}
	report := asked()
	for until := time.Now().Add(time.Minute); report.State != vitals.Failing && time.Now().Before(until); report = asked() {
		time.Sleep(200 * time.Millisecond) // findings are told again for ten seconds
	}
	if code != 1 || report.State != vitals.Failing || !strings.Contains(out, "is damaged") || !strings.Contains(out, "gritwardd restore") {
		t.Errorf("exit %d: %s", code, out)
	}
	if code, _, errOut := run(t, "health", "--data", filepath.Join(t.TempDir(), "none.db")); code != 1 || !strings.Contains(errOut, "no server answers") {
		t.Errorf("exit %d: %s", code, errOut)
	}
}

// TestVitals has each reason told that a server can have for not being well, from real parts: a store, certificates, a queue.
func TestVitals(t *testing.T) {
	now := time.Date(2026, 12, 11, 19, 0, 0, 0, time.UTC)
	began, data := now, filepath.Join(t.TempDir(), "club.db")
	opened, err := bolt.Open(bolt.Options{Path: data, Now: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = opened.Close() })
	l := ledger.New(opened, func() time.Time { return now })
	s := settings.Server{Data: data, SMTPServer: "mail.example:587"}
	way := func(end time.Time) *transport.Server {
		cert, key := endingAt(t, end)
		made, err := transport.NewServer(transport.Config{Way: transport.Files, CertFile: cert, KeyFile: key, Now: func() time.Time { return now }, Log: slog.New(slog.DiscardHandler)})
		if err != nil {
			t.Fatal(err)
		}
		return made
	}
	good := way(now.Add(60 * 24 * time.Hour))
	told := func(way *transport.Server) map[string]vitals.Finding {
		findings := map[string]vitals.Finding{}
		for _, f := range daemon.VitalsOf(t, s, l, opened, way, began, func() time.Time { return now }).Findings {
			findings[f.Check] = f
			if f.State != vitals.OK && (f.Means == "" || f.Check != "serving" && f.Next == "") {
				t.Errorf("it is not said what that means, or what to do: %+v", f)
			}
		}
		return findings
	}
	want := func(findings map[string]vitals.Finding, check string, state vitals.State, words string) {
		t.Helper()
		if f := findings[check]; f.State != state || !strings.Contains(f.Found, words) {
			t.Errorf("%s: %+v, want %s and %q", check, f, state, words)
		}
	}
	want(told(good), "store", vitals.Warning, "no club is founded")
	if err := l.Update(t.Context(), "fenwick", func(tx *ledger.Tx) error {
		return tx.Found(&pb.Club{Name: "clubs/fenwick", Title: "Fenwick Wheelers", Zone: "Europe/London"})
	}); err != nil {
		t.Fatal(err)
	}
	found := told(good)
	want(found, "store", vitals.OK, "1 club")
	want(found, "policy", vitals.Warning, "no policy is in force in fenwick")
	want(found, "certificate", vitals.OK, "ends 2027-02-09")
	want(found, "letters", vitals.OK, "0 letters waiting")
	want(told(way(now.Add(9*24*time.Hour))), "certificate", vitals.Warning, "ends 2026-12-20")
	want(told(way(now.Add(-time.Hour))), "certificate", vitals.Failing, "ended 2026-12-11 18:00")
	if err := l.Update(t.Context(), "fenwick", func(tx *ledger.Tx) error {
		return tx.AddLetter("ride1", &pb.Letter{Kind: pb.Letter_ROSTER, Member: "clubs/fenwick/members/ida"})
	}); err != nil {
		t.Fatal(err)
	}
	want(told(good), "letters", vitals.OK, "1 letter waiting")
	now = now.Add(2 * time.Hour)
	found = told(good)
	want(found, "letters", vitals.Warning, "1 letter waiting, the oldest for 2h0m")
	want(found, "overdue", vitals.Failing, "could not be looked at")
	files := map[string]vitals.Finding{"policy": daemon.NotAdopted([]string{"fenwick", "marrowdale"})}
	want(files, "policy", vitals.Warning, "the edited policy file was not adopted for fenwick, marrowdale")
}

// endingAt writes a certificate of its own with its key, which ends then.
func endingAt(t *testing.T, end time.Time) (certFile, keyFile string) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "test"}, NotBefore: end.Add(-90 * 24 * time.Hour), NotAfter: end, DNSNames: []string{"localhost"}}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	certFile, keyFile = filepath.Join(folder, "cert.pem"), filepath.Join(folder, "key.pem")
	for path, block := range map[string]*pem.Block{certFile: {Type: "CERTIFICATE", Bytes: der}, keyFile: {Type: "PRIVATE KEY", Bytes: secret}} {
		if err := os.WriteFile(path, pem.EncodeToMemory(block), fs.FileMode(0o600)); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := tls.LoadX509KeyPair(certFile, keyFile); err != nil {
		t.Fatal(err)
	}
	return certFile, keyFile
}
