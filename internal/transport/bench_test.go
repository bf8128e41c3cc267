package transport_test

import (
	"crypto/tls"
	"net"
	"path/filepath"
	"testing"
	"time"

	"gritward/internal/transport"
)

// BenchmarkCertificate tells what looking at the files for each connection costs, beside a whole handshake (the limit: 5 %).
func BenchmarkCertificate(b *testing.B) {
	server, err := transport.NewServer(transport.Config{Way: transport.Own, Folder: filepath.Join(b.TempDir(), "tls"), Hosts: []string{"127.0.0.1"},
		Now: time.Now, Log: (&logged{}).logger()})
	if err != nil {
		b.Fatal(err)
	}
	trusting, err := transport.NewClient(transport.ClientConfig{Host: "127.0.0.1", Pins: server.Pins(), Now: time.Now})
	if err != nil {
		b.Fatal(err)
	}
	var looking, shaking time.Duration
	for b.Loop() {
		began := time.Now()
		if _, err := server.TLS.GetCertificate(&tls.ClientHelloInfo{}); err != nil {
			b.Fatal(err)
		}
		looking += time.Since(began)
		near, far := net.Pipe()
		ended := make(chan error, 1)
		began = time.Now()
		go func() { ended <- tls.Server(far, server.TLS).Handshake() }()
		if err := tls.Client(near, trusting).Handshake(); err != nil {
			b.Fatal(err)
		}
		if err := <-ended; err != nil {
			b.Fatal(err)
		}
		shaking += time.Since(began)
		_, _ = near.Close(), far.Close()
	}
	b.ReportMetric(100*looking.Seconds()/shaking.Seconds(), "%/handshake")
}
