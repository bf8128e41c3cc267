package settings

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/pflag"
)

// Server is how the server is set up.
type Server struct {
	// Listen is the address to listen on, host:port; port 0 takes a free one.
	Listen string `mapstructure:"listen"`
	// Data is the path of the store file.
	Data string `mapstructure:"data"`
	// Etcd keeps the store in the place of the file, when it has endpoints. Data is where what belongs to this server alone lies beside
	// all the same.
	Etcd Etcd `mapstructure:",squash"`
	// TLS is where certificates come from: own, files, acme or none; empty: as the other settings have it (Way).
	TLS string `mapstructure:"tls"`
	// PublicAddresses are the names and IP addresses by which clients reach the server, parted by commas, each with a port
	// where it is another than that of Listen. Certificates are for these, and invites have the first.
	PublicAddresses string `mapstructure:"public_addresses"`
	// KeyFile is the path of the file with the keys that emergency contacts are sealed with; empty when there is no folder
	// for it.
	KeyFile string `mapstructure:"key_file"`
	// TLSCert and TLSKey are the server's certificate chain and key (PEM): both or none.
	TLSCert string `mapstructure:"tls_cert"`
	TLSKey  string `mapstructure:"tls_key"`
	// ACMETerms is "agreed" where the operator agrees to the terms of the ACME authority.
	ACMETerms string `mapstructure:"acme_terms"`
	// ACMEEmail is where that authority may write to; may be empty.
	ACMEEmail string `mapstructure:"acme_email"`
	// ACMEDirectory is the https address of its directory; empty: that of the library.
	ACMEDirectory string `mapstructure:"acme_directory"`
	// ACMECAFile holds certificates (PEM) that the directory's own must lead to; empty: those of the system.
	ACMECAFile string `mapstructure:"acme_ca_file"`
	// LockTimeout is how long to wait for another process to let go of the store file, 0 to 1 min; 0: not at all.
	LockTimeout time.Duration `mapstructure:"lock_timeout"`
	// LogLevel is the least level logged: debug, info, warn or error.
	LogLevel string `mapstructure:"log_level"`
	// LogFormat is text or json; empty: text on a terminal, json elsewhere.
	LogFormat string `mapstructure:"log_format"`
	// DeviceCallsMin and AddressCallsMin are how many calls a minute are taken of one device, and of one address; 60 to
	// 100,000.
	DeviceCallsMin  int `mapstructure:"device_calls_min"`
	AddressCallsMin int `mapstructure:"address_calls_min"`
	// FailedSignInsMin is how many bad tokens and invites a minute are looked at from one address, 1 to 1,000.
	FailedSignInsMin int `mapstructure:"failed_sign_ins_min"`
	// AddressConnections is how many connections one address may have open, 4 to 10,000.
	AddressConnections int `mapstructure:"address_connections"`
	// HandshakeTimeout is how long a connection may take to begin, 1 s to 1 min.
	HandshakeTimeout time.Duration `mapstructure:"handshake_timeout"`
	// OperatorListen is an address of this machine, host:port, to tell health and metrics on over HTTP, loopback or private; empty:
	// nowhere.
	OperatorListen string `mapstructure:"operator_listen"`
	// BackupFolder is where the operator keeps backups, for gritwardd doctor to look how old the newest is; empty: nobody looks.
	BackupFolder string `mapstructure:"backup_folder"`
	// PolicyFolder has a policy file for each club, CLUB.yaml, that is adopted when it is edited; empty: there is none.
	PolicyFolder string `mapstructure:"policy_folder"`
	// PagesListen is the address to serve pages to browsers on, host:port; empty: there are none. On a loopback address without
	// PagesAddress they are for this machine only; with it, another server speaks TLS with browsers and hands their calls on.
	PagesListen string `mapstructure:"pages_listen"`
	// PagesAddress is the https address at which browsers find the pages; codes on paper open those of rosters. Empty: the pages
	// are for this machine only, or there are none, and no codes.
	PagesAddress string `mapstructure:"pages_address"`
	// TilesAddress is the https address of map tiles to lay under the routes of rosters, with {z}, {x} and {y} in it; empty: none
	// are, and browsers ask nobody but this server.
	TilesAddress string `mapstructure:"tiles_address"`
	// TilesCredit names whose tiles they are, up to 200 characters; needed with TilesAddress.
	TilesCredit string `mapstructure:"tiles_credit"`
	// SMTPServer is the mail server that takes e-mail to members, host:port; empty: none is sent.
	SMTPServer string `mapstructure:"smtp_server"`
	// SMTPSecurity is how the way to it is kept from others: starttls, tls, or none, which is for this machine only.
	SMTPSecurity string `mapstructure:"smtp_security"`
	// SMTPFrom is the sender: "Club name <rides@club.example>".
	SMTPFrom string `mapstructure:"smtp_from"`
	// SMTPUser signs in, with the password in the file SMTPPasswordFile; empty: nobody does.
	SMTPUser         string `mapstructure:"smtp_user"`
	SMTPPasswordFile string `mapstructure:"smtp_password_file"`
	// SMTPPassword is what stands in that file.
	SMTPPassword Secret `mapstructure:"-"`
	// SMTPTimeout bounds each step of handing a letter over, 1 s to 1 min.
	SMTPTimeout time.Duration `mapstructure:"smtp_timeout"`
	// ForecastURL is the https address of a weather service that serves point forecasts; lat and lon are added to its
	// query. Empty: none is asked.
	ForecastURL string `mapstructure:"forecast_url"`
	// ForecastUserAgent tells that service who asks and how to reach them.
	ForecastUserAgent string `mapstructure:"forecast_user_agent"`
	// ForecastName is what the service is called on plans and briefs; empty: the name of its host.
	ForecastName string `mapstructure:"forecast_name"`
	// ForecastTimeout bounds a request to the service, 1 s to 1 min.
	ForecastTimeout time.Duration `mapstructure:"forecast_timeout"`
	// ForecastMaxAge is how old a forecast may be to be relied on, 1 h to 72 h.
	ForecastMaxAge time.Duration `mapstructure:"forecast_max_age"`
}

// ServerFlags adds the flags of the server's settings.
func ServerFlags(flags *pflag.FlagSet) {
	flags.String("listen", "", "address to listen on, host:port (default "+DefaultAddress+")")
	flags.String("data", "", "store file (default gritward/gritward.db in the folder for state)")
	transportFlags(flags)
	flags.String("key-file", "", "keys that emergency contacts are sealed with (default "+DefaultKeyFile()+")")
	flags.Duration("lock-timeout", 0, "how long to wait for another process to let go of the store file (default 5s)")
	flags.String("backup-folder", "", "folder of backups, for gritwardd doctor to look at (default none)")
	flags.String("policy-folder", "", "folder with a policy file for each club, CLUB.yaml, adopted when edited (default none)")
	flags.String("log-level", "", "least level logged: debug, info, warn or error (default info)")
	flags.String("log-format", "", "text or json (default text on a terminal, json elsewhere)")
	flags.String("pages-listen", "", "address to serve pages to browsers on, host:port (default none)")
	flags.String("pages-address", "", "https address at which browsers find the pages; codes on paper open it (default: this machine only)")
	flags.String("tiles-address", "", "https address of map tiles to lay under routes, with {z}, {x} and {y} (default none)")
	flags.String("tiles-credit", "", "whose map tiles they are")
	etcdFlags(flags)
	limitFlags(flags)
	forecastFlags(flags)
	mailFlags(flags)
}

// ServerFile is where the server's settings are looked for unless told otherwise: gritward/server.yaml in the user's
// configuration folder (os.UserConfigDir); "" when there is no such folder.
func ServerFile() string { return defaultPath("server.yaml") }

// DefaultKeyFile is where the keys of emergency contacts lie unless told otherwise: gritward/contacts.key in the user's
// configuration folder, apart from the store; "" when there is no such folder.
func DefaultKeyFile() string { return defaultPath("contacts.key") }

// DefaultData is the store file unless told otherwise: gritward.db in the folder that the service manager gives
// (STATE_DIRECTORY, systemd.exec(5)), else gritward/gritward.db in XDG_STATE_HOME, else in ~/.local/state (XDG Base
// Directory Specification 0.8). "" when there is no such folder. The folder may not be there yet.
func DefaultData() string {
	if given := os.Getenv("STATE_DIRECTORY"); given != "" {
		first, _, _ := strings.Cut(given, ":") // several are told apart by colons
		return filepath.Join(first, "gritward.db")
	}
	folder := os.Getenv("XDG_STATE_HOME")
	if !filepath.IsAbs(folder) { // the specification has relative paths ignored
		home, err := os.UserHomeDir()
		if err != nil {
			return ""
		}
		folder = filepath.Join(home, ".local", "state")
	}
	return filepath.Join(folder, "gritward", "gritward.db")
}

// LoadServer reads the server's settings. The error is Problems.
func LoadServer(src Source) (Server, error) {
	m, problems := merge(src, ServerFile(), map[string]any{
		"listen": DefaultAddress, "data": DefaultData(), "key_file": DefaultKeyFile(), "tls": "", "public_addresses": "", "tls_cert": "", "tls_key": "",
		"acme_terms": "", "acme_email": "", "acme_directory": "", "acme_ca_file": "",
		"etcd_endpoints": "", "etcd_prefix": "gritward/", "etcd_ca_file": "", "etcd_cert": "", "etcd_key": "", "etcd_timeout": "5s", "etcd_txn_ops": "128", "etcd_request_kib": "1228", "etcd_mirror_mib": "512",
		"lock_timeout": "5s", "log_level": "info", "log_format": "",
		"device_calls_min": "600", "address_calls_min": "3000", "failed_sign_ins_min": "20", "address_connections": "100", "handshake_timeout": "10s",
		"operator_listen": "", "backup_folder": "", "policy_folder": "", "pages_listen": "", "pages_address": "", "tiles_address": "", "tiles_credit": "",
		"forecast_url": "", "forecast_user_agent": "", "forecast_name": "", "forecast_timeout": "10s", "forecast_max_age": "12h",
		"smtp_server": "", "smtp_security": "starttls", "smtp_from": "", "smtp_user": "", "smtp_password_file": "", "smtp_timeout": "20s",
	})
	var s Server
	if len(problems) > 0 {
		return s, problems
	}
	for _, key := range []string{"lock_timeout", "etcd_timeout", "handshake_timeout", "forecast_timeout", "forecast_max_age", "smtp_timeout"} {
		if _, err := time.ParseDuration(m.viper.GetString(key)); err != nil {
			problems = append(problems, m.problem(key, "must be a time with its unit, for example 5s"))
			m.viper.Set(key, bounds[key].least.String()) // so that the rest can be checked too
		}
	}
	problems = append(problems, m.wrongNumbers()...)
	if err := m.viper.Unmarshal(&s); err != nil {
		return s, append(problems, Problem{m.path, err.Error()})
	}
	problems = append(problems, m.wrongServer(s)...)
	problems = append(problems, m.readPassword(&s)...)
	return s, problems.err()
}

func (m merged) wrongServer(s Server) Problems {
	var problems Problems
	add := func(key, format string, args ...any) {
		problems = append(problems, m.problem(key, format, args...))
	}
	if what := wrongAddress(s.Listen, true); what != "" {
		add("listen", "%s", what)
	}
	if s.OperatorListen != "" {
		if what := wrongAddress(s.OperatorListen, true); what != "" {
			add("operator_listen", "%s", what)
		} else if !IsLoopback(s.OperatorListen) && !isPrivate(s.OperatorListen) {
			add("operator_listen", "%s can be reached from anywhere; health and metrics are for whoever runs the server: listen on 127.0.0.1, or on one private address (RFC 1918, RFC 4193)", s.OperatorListen)
		}
	}
	if s.Data == "" {
		add("data", "there is no folder for state: set HOME, or name the store file with --data")
	}
	problems = append(problems, m.wrongTransport(s)...)
	problems = append(problems, m.wrongEtcd(s)...)
	problems = append(problems, m.within("lock_timeout", s.LockTimeout)...)
	problems = append(problems, m.within("handshake_timeout", s.HandshakeTimeout)...)
	problems = append(problems, m.wrongPages(s)...)
	problems = append(problems, m.wrongTiles(s)...)
	problems = append(problems, m.wrongForecast(s)...)
	problems = append(problems, m.wrongMail(s)...)
	problems = append(problems, m.oneOf("log_level", s.LogLevel, "debug", "info", "warn", "error")...)
	if s.LogFormat != "" {
		problems = append(problems, m.oneOf("log_format", s.LogFormat, "text", "json")...)
	}
	return problems
}

// bounds of the settings that are a time, both included.
var bounds = map[string]struct{ least, most time.Duration }{
	"lock_timeout": {0, time.Minute}, "etcd_timeout": {time.Second, time.Minute}, "handshake_timeout": {time.Second, time.Minute},
	"forecast_timeout": {time.Second, time.Minute}, "forecast_max_age": {time.Hour, 72 * time.Hour},
	"smtp_timeout": {time.Second, time.Minute},
}

func (m merged) within(key string, value time.Duration) Problems {
	if b := bounds[key]; value < b.least || value > b.most {
		return Problems{m.problem(key, "%s is not between %s and %s", value, b.least, b.most)}
	}
	return nil
}

func (m merged) oneOf(key, value string, words ...string) Problems {
	if slices.Contains(words, value) {
		return nil
	}
	hint := ""
	if near := nearest(value, words); near != "" {
		hint = "; did you mean " + near + "?"
	}
	return Problems{m.problem(key, "%q is not one of %s%s", value, strings.Join(words, ", "), hint)}
}
