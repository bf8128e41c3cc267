package settings

import "log/slog"

// Secret is a text that must not be shown: it prints, logs and marshals as "(hidden)", or as nothing when empty.
type Secret string

const hidden = "(hidden)"

// Reveal gives the text itself, for the one place that sends or stores it.
func (s Secret) Reveal() string { return string(s) }

// String hides the text from fmt.
func (s Secret) String() string {
	if s == "" {
		return ""
	}
	return hidden
}

// GoString hides the text from the fmt verb %#v.
func (s Secret) GoString() string { return `settings.Secret("` + s.String() + `")` }

// LogValue hides the text from log/slog.
func (s Secret) LogValue() slog.Value { return slog.StringValue(s.String()) }

// MarshalText hides the text from encoders such as encoding/json. It never fails.
func (s Secret) MarshalText() ([]byte, error) { return []byte(s.String()), nil }
