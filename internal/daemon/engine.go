package daemon

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"gritward/internal/ledger"
	"gritward/internal/settings"
	"gritward/internal/store"
	"gritward/internal/store/bolt"
	"gritward/internal/store/etcd"
)

// engine is the store of a server, in a file or in etcd.
type engine interface {
	store.Store
	// Whole ends when damage was come upon.
	Whole() context.Context
	// Waiting is how many transactions wait to write.
	Waiting() int
}

// openStore opens the store that the settings name; the folder of a file is made when it is not there. What takes long is told.
func openStore(ctx context.Context, s settings.Server, told io.Writer, observer store.Observer) (engine, error) {
	if err := os.MkdirAll(filepath.Dir(s.Data), 0o700); err != nil {
		return nil, fmt.Errorf("cannot make the folder of the store: %w", err)
	}
	if s.Etcd.Used() {
		return openEtcd(ctx, s.Etcd, observer, false)
	}
	return bolt.Open(bolt.Options{Path: s.Data, LockTimeout: max(s.LockTimeout, time.Millisecond), Now: time.Now, Observer: observer, Tell: func(text string) { fmt.Fprintln(told, text) }})
}

// openToRead opens the store for a command that only reads. Nothing is written to it. No server may use a file meanwhile; in etcd
// servers may go on.
func openToRead(ctx context.Context, s settings.Server) (store.Store, error) {
	if s.Etcd.Used() {
		options, err := etcdOptions(s.Etcd)
		if err != nil {
			return nil, err
		}
		options.ReadOnly = true
		return etcd.Open(ctx, options)
	}
	return bolt.Open(bolt.Options{Path: s.Data, LockTimeout: max(s.LockTimeout, time.Millisecond), Now: time.Now, ReadOnly: true})
}

// openLedger opens the store that the settings name, for a command that writes to it.
func openLedger(ctx context.Context, s settings.Server, told io.Writer) (*ledger.Ledger, func(), error) {
	opened, err := openStore(ctx, s, told, store.Observer{})
	if err != nil {
		return nil, nil, err
	}
	return ledger.New(opened, time.Now), func() { _ = opened.Close() }, nil
}

// openEtcd opens the store in etcd; moving: one that a move left unfinished, too.
func openEtcd(ctx context.Context, e settings.Etcd, observer store.Observer, moving bool) (*etcd.Store, error) {
	options, err := etcdOptions(e)
	if err != nil {
		return nil, err
	}
	options.Observer, options.Moving = observer, moving
	return etcd.Open(ctx, options)
}

// etcdOptions say which etcd the settings mean, and how it is used.
func etcdOptions(e settings.Etcd) (etcd.Options, error) {
	way, err := etcdTLS(e)
	return etcd.Options{Endpoints: e.Addresses(), TLS: way, Prefix: e.Prefix, Timeout: e.Timeout, TxnOps: e.TxnOps,
		TxnBytes: e.RequestKiB << 10, MirrorBytes: e.Keeps(), Now: time.Now}, err
}

// etcdTLS is the way to etcd; nil: in the open. Certificates are read once: change them before they end, and start again.
func etcdTLS(e settings.Etcd) (*tls.Config, error) {
	if e.CAFile == "" {
		return nil, nil
	}
	text, err := os.ReadFile(e.CAFile)
	if err != nil {
		return nil, fmt.Errorf("etcd_ca_file: %w", err)
	}
	way := &tls.Config{RootCAs: x509.NewCertPool(), MinVersion: tls.VersionTLS12}
	if !way.RootCAs.AppendCertsFromPEM(text) {
		return nil, fmt.Errorf("etcd_ca_file: %s has no certificate (PEM)", e.CAFile)
	}
	if e.CertFile != "" {
		shown, err := tls.LoadX509KeyPair(e.CertFile, e.KeyFile)
		if err != nil {
			return nil, fmt.Errorf("etcd_cert: %w", err)
		}
		way.Certificates = []tls.Certificate{shown}
	}
	return way, nil
}

// fileOnly refuses what can only be done with a store in a file.
func fileOnly(s settings.Server, instead string) error {
	if !s.Etcd.Used() {
		return nil
	}
	return errors.New("the store is in etcd (etcd_endpoints), and this works on a store in a file: " + instead)
}

// where says where the store is, for people.
func where(s settings.Server) string {
	if s.Etcd.Used() {
		return "etcd at " + s.Etcd.Endpoints
	}
	return s.Data
}
