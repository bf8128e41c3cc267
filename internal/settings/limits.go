package settings

import (
	"slices"
	"strconv"

	"github.com/spf13/pflag"
)

// limitFlags adds the flags that say how much is taken of whom.
func limitFlags(flags *pflag.FlagSet) {
	flags.Int("device-calls-min", 0, "calls a minute taken of one device (default 600)")
	flags.Int("address-calls-min", 0, "calls a minute taken of one address (default 3000)")
	flags.Int("failed-sign-ins-min", 0, "bad tokens and invites a minute looked at from one address (default 20)")
	flags.Int("address-connections", 0, "connections that one address may have open (default 100)")
	flags.String("operator-listen", "", "loopback or private address to tell health and metrics on, host:port (default none)")
	flags.Duration("handshake-timeout", 0, "how long a connection may take to begin (default 10s)")
}

// numbers are the settings that are a whole number, with their bounds, both included.
var numbers = map[string]struct{ least, most int }{
	"device_calls_min": {60, 100_000}, "address_calls_min": {60, 100_000}, "failed_sign_ins_min": {1, 1000}, "address_connections": {4, 10_000},
	"etcd_txn_ops": {16, 10_000}, "etcd_request_kib": {64, 65_536}, "etcd_mirror_mib": {16, 1_048_576},
}

// wrongNumbers says which numbers are none, or out of bounds, and puts others in their place so that the rest can be
// checked too.
func (m merged) wrongNumbers() (problems Problems) {
	keys := make([]string, 0, len(numbers))
	for key := range numbers {
		keys = append(keys, key)
	}
	slices.Sort(keys)
	for _, key := range keys {
		b := numbers[key]
		if n, err := strconv.Atoi(m.viper.GetString(key)); err != nil || n < b.least || n > b.most {
			problems = append(problems, m.problem(key, "must be a whole number, %d to %d", b.least, b.most))
			m.viper.Set(key, b.least)
		}
	}
	return problems
}
