//go:build etcd

package etcd_test

import (
	"crypto/tls"
	"crypto/x509"
	"strings"
	"testing"
	"time"

	"gritward/internal/store"
	"gritward/internal/store/etcd"
	"gritward/internal/store/etcd/etcdtest"
)

// TestTLS opens a store in an etcd of three members that each have a certificate for their own address, and ask for one, and goes on when
// the first is gone. With another authority, another name, no certificate or a strange one, an ended one, or TLS with who speaks in the
// open and the other way round, nobody is let in, and the error says what to do.
func TestTLS(t *testing.T) {
	t.Parallel()
	authority, other := etcdtest.NewAuthority(t), etcdtest.NewAuthority(t)
	cluster := etcdtest.NewSecureCluster(t, 3, authority)
	good := authority.Way(t)
	s := opened(t, etcd.Options{Endpoints: cluster.Addresses(), TLS: good})
	must(t, s.Update(t.Context(), "moor", func(tx store.Tx) error { return tx.Put("a", []byte("1")) }))
	open, _ := etcdtest.Shared(t)
	ended, err := tls.LoadX509KeyPair(authority.Issue(t, "ended", -time.Minute))
	must(t, err)
	for what, row := range map[string]struct {
		address string
		change  func(*tls.Config)
		says    []string
	}{
		"another authority": {"", func(way *tls.Config) { way.RootCAs = other.Way(t).RootCAs }, []string{"not from an authority in etcd_ca_file", "put the certificate of the authority"}},
		"another name":      {strings.Replace(cluster.Addresses()[0], "127.0.0.1", "localhost", 1), func(*tls.Config) {}, []string{"is not for localhost but for 127.0.0.1", "etcd_endpoints"}},
		"no certificate":    {"", func(way *tls.Config) { way.Certificates = nil }, []string{"asks for a certificate", "give etcd_cert and etcd_key"}},
		"a strange one":     {"", func(way *tls.Config) { way.Certificates = other.Way(t).Certificates }, []string{"does not take the certificate of etcd_cert", "--trusted-ca-file"}},
		"one that ended":    {"", func(way *tls.Config) { way.Certificates = []tls.Certificate{ended} }, []string{"does not take the certificate of etcd_cert", "in date"}},
		"later":             {"", func(way *tls.Config) { way.Time = func() time.Time { return time.Now().Add(20 * time.Hour) } }, []string{"its certificate is good from", "renew it"}},
		"TLS in the open":   {open, func(*tls.Config) {}, []string{"so it speaks in the open", "take etcd_ca_file out"}},
		"in the open":       {"", nil, []string{"if it wants TLS (--cert-file), give etcd_ca_file"}},
		"nobody there":      {"127.0.0.1:1", func(*tls.Config) {}, []string{"127.0.0.1:1 cannot be reached", "see that etcd runs there"}},
	} {
		t.Run(what, func(t *testing.T) {
			t.Parallel()
			options := etcd.Options{Endpoints: cluster.Addresses()[:1], Now: time.Now, Timeout: time.Second}
			if row.address != "" {
				options.Endpoints = []string{row.address}
			}
			if row.change != nil {
				options.TLS = good.Clone()
				row.change(options.TLS)
			}
			s, err := etcd.Open(t.Context(), options)
			if err == nil {
				_ = s.Close()
				t.Fatal("it was opened")
			}
			for _, want := range row.says {
				if !strings.Contains(err.Error(), want) {
					t.Errorf("%v: want %q", err, want)
				}
			}
		})
	}
	t.Run("the first is gone", func(t *testing.T) { // before those that wait to run in parallel
		shown := map[string]bool{}
		for _, address := range cluster.Addresses() {
			certs, err := etcd.Reach(t.Context(), address, good)
			if must(t, err); len(certs) > 0 {
				shown[certs[0].SerialNumber.String()] = true
			}
		}
		if len(shown) != 3 {
			t.Errorf("three members show %v", shown)
		}
		cluster.Kill(0)
		must(t, s.Update(t.Context(), "moor", func(tx store.Tx) error { return tx.Put("a", []byte("2")) }))
		cluster.Start(0)
		for err := x509.ErrUnsupportedAlgorithm; err != nil; {
			_, err = etcd.Reach(t.Context(), cluster.Addresses()[0], good)
		}
	})
}
