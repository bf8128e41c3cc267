package transport

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"math/big"
	"net"
	"time"
)

const (
	// authorityGood is how long an authority's certificate is good: ten years.
	authorityGood = 10 * 365 * 24 * time.Hour
	// leafGood is how long a certificate of the server is good, and leafLeft how much of that is left when it is renewed.
	leafGood, leafLeft = 90 * 24 * time.Hour, 30 * 24 * time.Hour
	// backdated lets in clients whose clock is slow.
	backdated = time.Hour
)

// signer is an authority's certificate with its key.
type signer struct {
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
}

// newSigner makes an authority: a new P-256 key, and a certificate that it signs itself.
func newSigner(now time.Time) (*signer, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	template := &x509.Certificate{
		Subject:   pkix.Name{CommonName: "gritward authority of " + now.UTC().Format(time.DateOnly)},
		NotBefore: now.Add(-backdated), NotAfter: now.Add(authorityGood),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true, KeyUsage: x509.KeyUsageCertSign,
	}
	cert, err := certify(template, template, key, key)
	return &signer{cert, key}, err
}

// issue makes a certificate for a server, and the chain to show with it.
func (s *signer) issue(now time.Time, hosts []string) (*tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	template := &x509.Certificate{
		Subject:   pkix.Name{CommonName: "gritward server"},
		NotBefore: now.Add(-backdated), NotAfter: now.Add(leafGood),
		BasicConstraintsValid: true,
		KeyUsage:              x509.KeyUsageDigitalSignature,
		ExtKeyUsage:           []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	if template.NotAfter.After(s.cert.NotAfter) {
		template.NotAfter = s.cert.NotAfter
	}
	for _, host := range hosts {
		if ip := net.ParseIP(host); ip != nil {
			template.IPAddresses = append(template.IPAddresses, ip)
		} else {
			template.DNSNames = append(template.DNSNames, host)
		}
	}
	leaf, err := certify(template, s.cert, key, s.key)
	if err != nil {
		return nil, err
	}
	return &tls.Certificate{Certificate: [][]byte{leaf.Raw, s.cert.Raw}, PrivateKey: key, Leaf: leaf}, nil
}

// certify signs a certificate for the public half of key.
func certify(template, parent *x509.Certificate, key, signing *ecdsa.PrivateKey) (*x509.Certificate, error) {
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127)) // RFC 5280, 4.1.2.2: up to 20 octets, above zero
	if err != nil {
		return nil, err
	}
	template.SerialNumber = serial.Add(serial, big.NewInt(1))
	der, err := x509.CreateCertificate(rand.Reader, template, parent, &key.PublicKey, signing)
	if err != nil {
		return nil, err
	}
	return x509.ParseCertificate(der)
}

// The types of PEM blocks (RFC 7468).
const pemCert, pemKey = "CERTIFICATE", "PRIVATE KEY"

// encode lays an authority out as one file, so that certificate and key can never be of two minds.
func (s *signer) encode() ([]byte, error) {
	secret, err := x509.MarshalPKCS8PrivateKey(s.key)
	if err != nil {
		return nil, err
	}
	return append(pem.EncodeToMemory(&pem.Block{Type: pemCert, Bytes: s.cert.Raw}),
		pem.EncodeToMemory(&pem.Block{Type: pemKey, Bytes: secret})...), nil
}

// decodeSigner reads what encode wrote, and holds it against what an authority must be.
func decodeSigner(content []byte) (*signer, error) {
	pair, err := tls.X509KeyPair(content, content)
	if err != nil {
		return nil, err
	}
	key, isECDSA := pair.PrivateKey.(*ecdsa.PrivateKey)
	switch cert := pair.Leaf; {
	case !isECDSA:
		return nil, errors.New("the key is not an ECDSA key")
	case !cert.IsCA || cert.KeyUsage&x509.KeyUsageCertSign == 0:
		return nil, errors.New("the certificate is not that of an authority")
	default:
		return &signer{cert, key}, nil
	}
}

// validity says of when a certificate is.
func validity(cert *x509.Certificate) string {
	return fmt.Sprintf("%s to %s", cert.NotBefore.UTC().Format(time.DateOnly), cert.NotAfter.UTC().Format(time.DateOnly))
}
