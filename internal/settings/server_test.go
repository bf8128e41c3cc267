package settings_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/spf13/pflag"

	"gritward/internal/settings"
)

func serverFlags(t *testing.T, args ...string) *pflag.FlagSet {
	t.Helper()
	flags := pflag.NewFlagSet("t", pflag.ContinueOnError)
	settings.ServerFlags(flags)
	if err := flags.Parse(args); err != nil {
		t.Fatal(err)
	}
	return flags
}

// ordinary is how etcd is asked where nothing else is said; without endpoints it is not.
var ordinary = settings.Etcd{Prefix: "gritward/", Timeout: 5 * time.Second, TxnOps: 128, RequestKiB: 1228, MirrorMiB: 512}

func TestServerDefaults(t *testing.T) {
	alone(t)
	got, err := settings.LoadServer(settings.Source{Flags: serverFlags(t)})
	if err != nil {
		t.Fatal(err)
	}
	want := settings.Server{Listen: "127.0.0.1:7347", Etcd: ordinary, Data: settings.DefaultData(), KeyFile: settings.DefaultKeyFile(), LockTimeout: 5 * time.Second,
		DeviceCallsMin: 600, AddressCallsMin: 3000, FailedSignInsMin: 20, AddressConnections: 100, HandshakeTimeout: 10 * time.Second,
		LogLevel: "info", ForecastTimeout: 10 * time.Second, ForecastMaxAge: 12 * time.Hour,
		SMTPSecurity: "starttls", SMTPTimeout: 20 * time.Second}
	if got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
}

func TestServerSources(t *testing.T) {
	alone(t)
	cert := write(t, "certificate")
	password := write(t, "quiet lanes\n")
	path := write(t, "smtp_server: mail.example:587\nsmtp_security: tls\nsmtp_from: Club <rides@club.example>\nsmtp_user: rides\nsmtp_password_file: "+password+
		"\nlisten: 0.0.0.0:7347\ntls_cert: "+cert+"\ntls_key: "+cert+"\nlock_timeout: 2s\nlog_level: warn\ndevice_calls_min: 1000\n"+
		"forecast_url: https://weather.example/point\nforecast_user_agent: club.example\nforecast_max_age: 6h\n")
	t.Setenv("GRITWARD_LOG_FORMAT", "json")
	t.Setenv("GRITWARD_LOG_LEVEL", "error")
	got, err := settings.LoadServer(settings.Source{File: path, Flags: serverFlags(t, "--data", "x.db", "--lock-timeout", "3s")})
	if err != nil {
		t.Fatal(err)
	}
	want := settings.Server{Listen: "0.0.0.0:7347", Etcd: ordinary, Data: "x.db", KeyFile: settings.DefaultKeyFile(), TLSCert: cert, TLSKey: cert,
		DeviceCallsMin: 1000, AddressCallsMin: 3000, FailedSignInsMin: 20, AddressConnections: 100, HandshakeTimeout: 10 * time.Second,
		LockTimeout: 3 * time.Second, LogLevel: "error", LogFormat: "json", ForecastURL: "https://weather.example/point",
		ForecastUserAgent: "club.example", ForecastTimeout: 10 * time.Second, ForecastMaxAge: 6 * time.Hour,
		SMTPServer: "mail.example:587", SMTPSecurity: "tls", SMTPFrom: "Club <rides@club.example>", SMTPUser: "rides", SMTPPasswordFile: password,
		SMTPPassword: "quiet lanes", SMTPTimeout: 20 * time.Second}
	if got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
}

func TestDefaultData(t *testing.T) {
	alone(t)
	t.Setenv("HOME", "/home/r")
	steps := []struct{ variable, value, want string }{
		{"XDG_STATE_HOME", "relative", "/home/r/.local/state/gritward/gritward.db"},
		{"XDG_STATE_HOME", "/state", "/state/gritward/gritward.db"},
		{"STATE_DIRECTORY", "/var/lib/gritward:/var/lib/other", "/var/lib/gritward/gritward.db"},
	}
	for _, step := range steps {
		t.Setenv(step.variable, step.value)
		if got := settings.DefaultData(); got != filepath.FromSlash(step.want) {
			t.Errorf("%s=%s: %s, want %s", step.variable, step.value, got, step.want)
		}
	}
}

func TestServerProblems(t *testing.T) {
	loose, locked := write(t, "quiet lanes"), t.TempDir()
	if err := errors.Join(os.Chmod(loose, 0o644), os.Chmod(locked, 0o700)); err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name, file string
		want       []string
	}{
		{"open without TLS", "listen: :7347", []string{"can be reached from other machines, so it needs TLS: say with public_addresses by which names or IP addresses clients reach it"}},
		{"every interface", "listen: 0.0.0.0:7347", []string{"needs TLS"}},
		{"every interface, IPv6", "listen: '[::]:7347'", []string{"needs TLS"}},
		{"plain text for everybody", "listen: :7347\ntls: none", []string{"s.yaml:1:1: :7347 can be reached from other machines, so it needs TLS: take tls: none out"}},
		{"etcd without a port", "etcd_endpoints: 10.0.0.1", []string{"s.yaml:1:1: \"10.0.0.1\" is not host:port"}},
		{"etcd in the open", "etcd_endpoints: '127.0.0.1:2379, etcd.example:2379'", []string{"s.yaml:1:1: etcd.example:2379 is not on this machine nor in a private network, so the way there needs TLS: give etcd_ca_file"}},
		{"half a pair for etcd", "etcd_endpoints: 10.0.0.1:2379\netcd_cert: /nowhere/c.pem", []string{"etcd_cert and etcd_key go together", "is needed with etcd_cert", "/nowhere/c.pem cannot be read"}},
		{"requests of etcd", "etcd_txn_ops: 5\netcd_request_kib: 1\netcd_mirror_mib: 2\netcd_timeout: 0s\netcd_prefix: 'a b'", []string{"must be a whole number, 16 to 10000", "must be a whole number, 64 to 65536", "must be a whole number, 16 to 1048576", "0s is not between 1s and 1m0s", "must have a letter at least, and no spaces"}},
		{"another way", "tls: acmee", []string{"s.yaml:1:1: \"acmee\" is not one of own, files, acme, none; did you mean acme?"}},
		{"files without files", "tls: files", []string{"s.yaml:1:1: files needs tls_cert and tls_key"}},
		{"public address with a space", "public_addresses: rides example", []string{"s.yaml:1:1: \"rides example\" is not a name or an IP address"}},
		{"public address of every interface", "public_addresses: '0.0.0.0, [::]:1'", []string{"\"0.0.0.0\" is not", "\"[::]:1\" is not"}},
		{"public address with other letters", "public_addresses: rides.exämple", []string{"is written in the form xn--"}},
		{"public port", "public_addresses: rides.example:0", []string{"\"rides.example:0\" is not"}},
		{"ACME without a name", "tls: acme\npublic_addresses: 192.0.2.7,localhost\nacme_terms: agreed", []string{"s.yaml:2:1: must have a public name"}},
		{"ACME without agreeing", "tls: acme\npublic_addresses: rides.example\nacme_terms: maybe", []string{"s.yaml:3:1: must be \"agreed\""}},
		{"ACME in the clear", "tls: acme\npublic_addresses: rides.example\nacme_terms: agreed\nacme_directory: http://ca.example/d", []string{"s.yaml:4:1: must be an address as https://HOST/PATH"}},
		{"half a pair", "tls_cert: /nowhere/c.pem", []string{"go together", "/nowhere/c.pem cannot be read"}},
		{"duration without unit", "lock_timeout: 5", []string{"s.yaml:1:1: must be a time with its unit"}},
		{"metrics for everybody", "operator_listen: 0.0.0.0:9100", []string{"s.yaml:1:1: 0.0.0.0:9100 can be reached from anywhere"}},
		{"metrics on a public address", "operator_listen: 203.0.113.7:9100", []string{"s.yaml:1:1: 203.0.113.7:9100 can be reached from anywhere"}},
		{"pages in plain text", "pages_address: http://rides.example", []string{"s.yaml:1:1: is not an https address"}},
		{"pages nowhere", "pages_address: rides.example", []string{"is not an https address"}},
		{"pages with a question", "pages_address: https://rides.example/?a=b", []string{"must be the host alone"}},
		{"pages with a slash", "pages_address: https://rides.example/", []string{"must be the host alone"}},
		{"pages that nothing serves", "pages_address: https://rides.example", []string{"s.yaml:1:1: nothing answers there"}},
		{"pages for nobody", "pages_listen: :8443", []string{"s.yaml:1:1: :8443 can be reached from other machines: say with pages_address"}},
		{"pages by our own authority", "listen: :7347\npublic_addresses: rides.example\npages_listen: :8443\npages_address: https://rides.example", []string{"s.yaml:3:1: browsers trust no certificate"}},
		{"pages by another name", "listen: :7347\ntls: acme\nacme_terms: agreed\npublic_addresses: rides.example\npages_listen: :443\npages_address: https://pages.example", []string{"s.yaml:6:1: pages.example is not among public_addresses"}},
		{"pages no address", "pages_listen: here", []string{"s.yaml:1:1: must be host:port"}},
		{"tiles in plain text", "tiles_address: http://tiles.example/{z}/{x}/{y}.png\ntiles_credit: us", []string{"s.yaml:1:1: is not an https address"}},
		{"tiles of no number", "tiles_address: https://tiles.example/{z}/{x}.png\ntiles_credit: us", []string{"has not {z}, {x} and {y}"}},
		{"tiles on any host", "tiles_address: https://{z}.tiles.example/{x}/{y}.png\ntiles_credit: us", []string{"in its host"}},
		{"tiles of a second policy", "tiles_address: \"https://tiles.example;script-src/{z}/{x}/{y}.png\"\ntiles_credit: us", []string{"is not an https address"}},
		{"tiles of nobody", "tiles_address: https://tiles.example/{z}/{x}/{y}.png", []string{"needs tiles_credit"}},
		{"credit for nothing", "tiles_credit: us", []string{"s.yaml:1:1: says whose"}},
		{"credit too long", "tiles_address: https://tiles.example/{z}/{x}/{y}.png\ntiles_credit: " + strings.Repeat("a", 201), []string{"longer than 200"}},
		{"pages far away", "pages_address: https://" + strings.Repeat("a", 100) + ".example", []string{"is longer than 100 bytes"}},
		{"metrics nowhere", "operator_listen: here", []string{"s.yaml:1:1: "}},
		{"number not a number", "device_calls_min: many", []string{"s.yaml:1:1: must be a whole number, 60 to 100000"}},
		{"number too small", "failed_sign_ins_min: 0", []string{"must be a whole number, 1 to 1000"}},
		{"number with a fraction", "address_connections: 4.5", []string{"must be a whole number, 4 to 10000"}},
		{"number beyond every number", "address_calls_min: 99999999999999999999", []string{"must be a whole number, 60 to 100000"}},
		{"handshake too long", "handshake_timeout: 2m", []string{"2m0s is not between 1s and 1m0s"}},
		{"duration too long", "lock_timeout: 2h", []string{"2h0m0s is not between 0s and 1m0s"}},
		{"duration below zero", "lock_timeout: -1s", []string{"-1s is not between"}},
		{"duration not a number", "lock_timeout: NaN", []string{"must be a time"}},
		{"level", "log_level: inof", []string{`"inof" is not one of debug, info, warn, error; did you mean info?`}},
		{"all at once", "listen: here\nlog_level: loud\nlog_format: xml\nlock_timeout: soon\n",
			[]string{"s.yaml:1:1: must be host:port", "s.yaml:2:1: ", "s.yaml:3:1: ", "s.yaml:4:1: "}},
		{"unknown key", "tls-cert: x", []string{`"tls-cert" is not known; did you mean "tls_cert"?`}},
		{"forecast in the clear", "forecast_url: http://weather.example\nforecast_user_agent: a@b.example", []string{"s.yaml:1:1: must begin with https://"}},
		{"forecast by nobody", "forecast_url: https://weather.example", []string{"forecast_user_agent (default): must say who asks"}},
		{"forecast by a browser", "forecast_url: https://weather.example\nforecast_user_agent: browser", []string{"s.yaml:2:1: must hold an e-mail address"}},
		{"agent with a line break", "forecast_url: https://weather.example\nforecast_user_agent: \"a@b.example\\r\\nX: y\"", []string{"s.yaml:2:1: must be plain letters"}},
		{"forecast for ever", "forecast_max_age: 900h\nforecast_timeout: 1ms\n", []string{"900h0m0s is not between 1h0m0s and 72h0m0s", "1ms is not between 1s and 1m0s"}},
		{"forecast age without unit", "forecast_max_age: 12\n", []string{"s.yaml:1:1: must be a time with its unit"}},
		{"mail without a port", "smtp_server: mail.example\nsmtp_from: a@b.example", []string{"s.yaml:1:1: must be host:port"}},
		{"mail in the clear", "smtp_server: mail.example:25\nsmtp_security: none\nsmtp_from: a@b.example", []string{"s.yaml:2:1: none would send names and addresses in plain text"}},
		{"mail by nobody", "smtp_server: mail.example:25", []string{"smtp_from (default): must be the address of a sender"}},
		{"mail by two", "smtp_server: mail.example:25\nsmtp_from: a@b.example, c@d.example", []string{"s.yaml:2:1: must be the address of a sender"}},
		{"security misspelt", "smtp_security: startls", []string{"did you mean starttls?"}},
		{"mail to nowhere", "smtp_from: a@b.example", []string{"smtp_server (default): is missing"}},
		{"user without a password", "smtp_server: mail.example:25\nsmtp_from: a@b.example\nsmtp_user: rides", []string{"s.yaml:3:1: smtp_user and smtp_password_file go together"}},
		{"no password file", "smtp_server: mail.example:25\nsmtp_from: a@b.example\nsmtp_user: rides\nsmtp_password_file: /nowhere", []string{"s.yaml:4:1: /nowhere cannot be read"}},
		{"a folder for a password", "smtp_server: mail.example:25\nsmtp_from: a@b.example\nsmtp_user: rides\nsmtp_password_file: " + locked, []string{"is not a file with a password in it"}},
		{"a password for all to read", "smtp_server: mail.example:25\nsmtp_from: a@b.example\nsmtp_user: rides\nsmtp_password_file: " + loose, []string{"can be read by others: chmod 600 "}},
		{"port", "listen: 127.0.0.1:70000", []string{"1 to 65535"}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			alone(t)
			_, err := settings.LoadServer(settings.Source{File: write(t, test.file)})
			if err == nil {
				t.Fatal("taken")
			}
			for _, want := range test.want {
				if !strings.Contains(err.Error(), want) {
					t.Errorf("%q is not in: %v", want, err)
				}
			}
		})
	}
}

func TestServerNoHome(t *testing.T) {
	alone(t)
	t.Setenv("HOME", "")
	t.Setenv("XDG_CONFIG_HOME", "")
	if _, err := settings.LoadServer(settings.Source{}); err == nil || !strings.Contains(err.Error(), "data (default): there is no folder for state") {
		t.Errorf("got %v", err)
	}
	if _, err := settings.LoadServer(settings.Source{Flags: serverFlags(t, "--data", "x.db")}); err != nil {
		t.Errorf("with a store file named: %v", err)
	}
}
