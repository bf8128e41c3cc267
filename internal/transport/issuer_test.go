package transport_test

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
	"testing"
	"time"
)

// issuer is an authority of a test's own making, with a free hand as to times and names.
type issuer struct {
	key  *ecdsa.PrivateKey
	cert *x509.Certificate
}

func newIssuer(t *testing.T, name string) *issuer {
	return newIssuerOf(t, name, friday.AddDate(-1, 0, 0), friday.AddDate(1, 0, 0))
}

func newIssuerOf(t *testing.T, name string, from, to time.Time) *issuer {
	t.Helper()
	i := &issuer{key: newKey(t)}
	template := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: name},
		NotBefore: from, NotAfter: to, IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign}
	i.cert = sign(t, template, template, i.key, i.key)
	return i
}

// leaf makes a certificate for hosts, and its key, as PEM; the chain has the authority's too.
func (i *issuer) leaf(t *testing.T, from, to time.Time, hosts ...string) (chain, secret []byte) {
	t.Helper()
	key := newKey(t)
	template := &x509.Certificate{SerialNumber: big.NewInt(time.Now().UnixNano()), NotBefore: from, NotAfter: to,
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}
	for _, host := range hosts {
		if ip := net.ParseIP(host); ip != nil {
			template.IPAddresses = append(template.IPAddresses, ip)
		} else {
			template.DNSNames = append(template.DNSNames, host)
		}
	}
	made := sign(t, template, i.cert, key, i.key)
	der, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	return append(pemOf(made), i.pem()...), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der})
}

func (i *issuer) pem() []byte { return pemOf(i.cert) }

// pair is leaf, ready to be shown.
func (i *issuer) pair(t *testing.T, from, to time.Time, hosts ...string) *tls.Certificate {
	t.Helper()
	pair, err := tls.X509KeyPair(i.leaf(t, from, to, hosts...))
	if err != nil {
		t.Fatal(err)
	}
	return &pair
}

func pemOf(cert *x509.Certificate) []byte {
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: cert.Raw})
}

func newKey(t *testing.T) *ecdsa.PrivateKey {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	return key
}

func sign(t *testing.T, template, parent *x509.Certificate, key, signing *ecdsa.PrivateKey) *x509.Certificate {
	t.Helper()
	der, err := x509.CreateCertificate(rand.Reader, template, parent, &key.PublicKey, signing)
	if err != nil {
		t.Fatal(err)
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	return cert
}
