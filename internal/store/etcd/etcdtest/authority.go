package etcdtest

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// Authority is a certificate authority of a test's own.
type Authority struct {
	// File is its certificate (PEM).
	File   string
	folder string
	cert   *x509.Certificate
	key    *ecdsa.PrivateKey
	issued int64
}

// NewAuthority makes one, which is gone with the test.
func NewAuthority(t testing.TB) *Authority {
	t.Helper()
	a := &Authority{folder: t.TempDir()}
	template := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "etcd's authority"}, NotBefore: time.Now().Add(-time.Hour),
		NotAfter: time.Now().Add(24 * time.Hour), IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign}
	a.key = newKey(t)
	a.File, a.cert = a.write(t, "ca", template, template, a.key)
	return a
}

// Issue makes a certificate for servers of these names and addresses, and for clients, that ends after so long.
func (a *Authority) Issue(t testing.TB, name string, good time.Duration, hosts ...string) (cert, key string) {
	t.Helper()
	a.issued++
	template := &x509.Certificate{SerialNumber: big.NewInt(1 + a.issued), Subject: pkix.Name{CommonName: name}, NotBefore: time.Now().Add(-time.Hour),
		NotAfter: time.Now().Add(good), ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth}}
	for _, host := range hosts {
		if ip := net.ParseIP(host); ip != nil {
			template.IPAddresses = append(template.IPAddresses, ip)
		} else {
			template.DNSNames = append(template.DNSNames, host)
		}
	}
	made := newKey(t)
	cert, _ = a.write(t, name, template, a.cert, made)
	secret, err := x509.MarshalPKCS8PrivateKey(made)
	if err != nil {
		t.Fatal(err)
	}
	key = filepath.Join(a.folder, name+".key.pem")
	if err := os.WriteFile(key, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret}), 0o600); err != nil {
		t.Fatal(err)
	}
	return cert, key
}

// Way trusts the authority, and shows a certificate of its own.
func (a *Authority) Way(t testing.TB) *tls.Config {
	t.Helper()
	cert, key := a.Issue(t, "way", time.Hour)
	shown, err := tls.LoadX509KeyPair(cert, key)
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	roots.AddCert(a.cert)
	return &tls.Config{RootCAs: roots, Certificates: []tls.Certificate{shown}, MinVersion: tls.VersionTLS12}
}

func newKey(t testing.TB) *ecdsa.PrivateKey {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	return key
}

func (a *Authority) write(t testing.TB, name string, template, parent *x509.Certificate, key *ecdsa.PrivateKey) (path string, cert *x509.Certificate) {
	t.Helper()
	der, err := x509.CreateCertificate(rand.Reader, template, parent, &key.PublicKey, a.key)
	if err != nil {
		t.Fatal(err)
	}
	path = filepath.Join(a.folder, name+".pem")
	if err := os.WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600); err != nil {
		t.Fatal(err)
	}
	if cert, err = x509.ParseCertificate(der); err != nil {
		t.Fatal(err)
	}
	return path, cert
}
