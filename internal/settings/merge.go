package settings

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/pflag"
	"github.com/spf13/viper"
)

// envPrefix begins the name of every environment variable read: the setting ca_file is GRITWARD_CA_FILE.
const envPrefix = "GRITWARD"

// Source says where settings are read from, beside the environment.
type Source struct {
	// File is the path of the settings file, which must be there. Empty: the default place, where it may be missing.
	File string
	// New says that File need not be there yet.
	New bool
	// Flags are the flags of the command, with hyphens for underscores (--tls-cert for tls_cert). Those that were given
	// count most. May be nil.
	Flags *pflag.FlagSet
}

// merged is what came out of all sources, with the place that decided each value.
type merged struct {
	viper *viper.Viper
	file  map[string]fileValue
	flags *pflag.FlagSet
	path  string
}

// merge reads all sources, one over the other. The file is checked before; viper gets only what passed.
func merge(src Source, defaultFile string, defaults map[string]any) (merged, Problems) {
	m := merged{viper: viper.NewWithOptions(viper.KeyDelimiter("::")), flags: src.Flags, path: src.File}
	keys := make([]string, 0, len(defaults))
	for key, value := range defaults {
		m.viper.SetDefault(key, value) // a key without a default would not be looked up in the environment
		keys = append(keys, key)
	}
	slices.Sort(keys)
	if m.path == "" {
		m.path = defaultFile
	}
	var problems Problems
	if m.path != "" {
		m.file, problems = readFile(m.path, src.File != "" && !src.New, keys)
	}
	plain := map[string]any{}
	for key, value := range m.file {
		plain[key] = value.text
	}
	if err := m.viper.MergeConfigMap(plain); err != nil {
		problems = append(problems, Problem{m.path, err.Error()})
	}
	m.viper.SetEnvPrefix(envPrefix)
	m.viper.AutomaticEnv()
	for _, key := range keys {
		if flag := m.flag(key); flag != nil {
			if err := m.viper.BindPFlag(key, flag); err != nil {
				problems = append(problems, Problem{"--" + flag.Name, err.Error()})
			}
		}
	}
	return m, problems
}

// flag is the given flag of a setting, nil when it was not given.
func (m merged) flag(key string) *pflag.Flag {
	if m.flags == nil {
		return nil
	}
	flag := m.flags.Lookup(strings.ReplaceAll(key, "_", "-"))
	if flag == nil || !flag.Changed {
		return nil
	}
	return flag
}

// where names the place that decided a setting.
func (m merged) where(key string) string {
	if flag := m.flag(key); flag != nil {
		return "--" + flag.Name
	}
	if env := envPrefix + "_" + strings.ToUpper(key); os.Getenv(env) != "" {
		return env
	}
	if value, ok := m.file[key]; ok {
		return value.where
	}
	return key + " (default)"
}

// problem makes a problem with the place that decided the setting.
func (m merged) problem(key, format string, args ...any) Problem {
	return Problem{m.where(key), fmt.Sprintf(format, args...)}
}

// defaultPath is the settings file of that name in the user's configuration folder; "" when there is no such folder.
func defaultPath(name string) string {
	folder, err := os.UserConfigDir()
	if err != nil {
		return ""
	}
	return filepath.Join(folder, "gritward", name)
}
