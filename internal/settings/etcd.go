package settings

import (
	"os"
	"strings"
	"time"

	"github.com/spf13/pflag"
)

// Etcd is the etcd that keeps the store, for any number of servers; with no endpoints the store is a file.
type Etcd struct {
	// Endpoints are the addresses of etcd's members, host:port, parted by commas.
	Endpoints string `mapstructure:"etcd_endpoints"`
	// Prefix is what the names of all keys begin with.
	Prefix string `mapstructure:"etcd_prefix"`
	// CAFile holds certificates (PEM) that those of the members must lead to; CertFile and KeyFile are what the server shows them.
	// Without CAFile the way is in the open, and the members must be on this machine or in a network of the operator's own.
	CAFile   string `mapstructure:"etcd_ca_file"`
	CertFile string `mapstructure:"etcd_cert"`
	KeyFile  string `mapstructure:"etcd_key"`
	// Timeout is for how long one use of etcd may take, 1 s to 1 min.
	Timeout time.Duration `mapstructure:"etcd_timeout"`
	// TxnOps and RequestKiB are what the members take in one request: their --max-txn-ops, and their --max-request-bytes less a
	// fifth. 16 to 10,000, and 64 to 65,536.
	TxnOps     int `mapstructure:"etcd_txn_ops"`
	RequestKiB int `mapstructure:"etcd_request_kib"`
	// MirrorMiB is how much of the clubs a server keeps in memory, before it lets go of those that nobody uses.
	MirrorMiB int `mapstructure:"etcd_mirror_mib"`
}

// Used tells whether etcd keeps the store.
func (e Etcd) Used() bool { return e.Endpoints != "" }

// Keeps is how much of the clubs a server keeps in memory, bytes; 0 where the store is a file.
func (e Etcd) Keeps() int64 {
	if !e.Used() {
		return 0
	}
	return int64(e.MirrorMiB) << 20
}

// Addresses are the endpoints, one by one.
func (e Etcd) Addresses() []string { return parted(e.Endpoints) }

func etcdFlags(flags *pflag.FlagSet) {
	flags.String("etcd-endpoints", "", "addresses of the etcd that keeps the store, host:port parted by commas (default none: the store is the file of --data)")
	flags.String("etcd-prefix", "", "what the names of all keys in etcd begin with (default gritward/)")
	flags.String("etcd-ca-file", "", "certificates (PEM) that those of etcd's members must lead to (default: the way to them is in the open)")
	flags.String("etcd-cert", "", "certificate (PEM) to show to etcd's members (default none)")
	flags.String("etcd-key", "", "private key (PEM) of that certificate")
	flags.Duration("etcd-timeout", 0, "how long one use of etcd may take (default 5s)")
	flags.Int("etcd-txn-ops", 0, "etcd's --max-txn-ops (default 128)")
	flags.Int("etcd-request-kib", 0, "how much to put into one request of etcd, in KiB, four fifths of its --max-request-bytes at most (default 1228)")
	flags.Int("etcd-mirror-mib", 0, "how much of the clubs to keep in memory, in MiB, before those are let go that nobody uses (default 512)")
}

// wrongEtcd says what is wrong with how etcd is set up.
func (m merged) wrongEtcd(s Server) Problems {
	e := s.Etcd
	var problems Problems
	add := func(key, format string, args ...any) { problems = append(problems, m.problem(key, format, args...)) }
	for _, address := range e.Addresses() {
		if wrongAddress(address, false) != "" {
			add("etcd_endpoints", "%q is not host:port, as in 10.0.0.1:2379", address)
		} else if e.CAFile == "" && !IsLoopback(address) && !isPrivate(address) {
			add("etcd_endpoints", "%s is not on this machine nor in a private network, so the way there needs TLS: give etcd_ca_file", address)
		}
	}
	if (e.CertFile == "") != (e.KeyFile == "") {
		add("etcd_cert", "etcd_cert and etcd_key go together: give both or none")
	}
	if e.CertFile != "" && e.CAFile == "" {
		add("etcd_ca_file", "is needed with etcd_cert: the members of etcd must show whom the server talks to")
	}
	for _, file := range []struct{ key, path string }{{"etcd_ca_file", e.CAFile}, {"etcd_cert", e.CertFile}, {"etcd_key", e.KeyFile}} {
		if _, err := os.Stat(file.path); file.path != "" && err != nil {
			add(file.key, "%s cannot be read: %s", file.path, cause(err))
		}
	}
	if e.Prefix == "" || strings.ContainsAny(e.Prefix, " \t\n") {
		add("etcd_prefix", "must have a letter at least, and no spaces")
	}
	return append(problems, m.within("etcd_timeout", e.Timeout)...)
}
