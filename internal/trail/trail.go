// Package trail gives each call an id, by which the lines of the log about it are found from what a person was told.
package trail

import (
	"context"
	"crypto/rand"
	"log/slog"
)

// Header is the metadata and the HTTP header that an id travels in, both ways. Common practice, no source.
const Header = "x-request-id"

// longest is how long an id of somebody else's making may be, in bytes.
const longest = 64

// WellFormed tells whether an id of somebody else's making is taken: 1 to 64 letters, digits, dots, hyphens and underscores of
// ASCII, which no log, header or terminal takes for anything else.
func WellFormed(id string) bool {
	for _, c := range []byte(id) {
		if !(c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '-' || c == '_' || c == '.') {
			return false
		}
	}
	return id != "" && len(id) <= longest
}

// Pick is the id for a call that came with those: the only one, when it is well formed, or else a new one of 130 random bits.
func Pick(given []string) string {
	if len(given) == 1 && WellFormed(given[0]) {
		return given[0]
	}
	return rand.Text()
}

type key struct{}

// With gives a context the id of its call.
func With(ctx context.Context, id string) context.Context { return context.WithValue(ctx, key{}, id) }

// Of is the id of a context's call; "" when it belongs to none.
func Of(ctx context.Context) string {
	id, _ := ctx.Value(key{}).(string)
	return id
}

// Handler adds the id of the call to each line of a log that is written in its context, as request_id.
func Handler(under slog.Handler) slog.Handler { return handler{under} }

type handler struct{ slog.Handler }

// Handle implements slog.Handler.
func (h handler) Handle(ctx context.Context, line slog.Record) error {
	if id := Of(ctx); id != "" {
		line = line.Clone()
		line.AddAttrs(slog.String("request_id", id))
	}
	return h.Handler.Handle(ctx, line)
}

// WithAttrs implements slog.Handler.
func (h handler) WithAttrs(attrs []slog.Attr) slog.Handler {
	return handler{h.Handler.WithAttrs(attrs)}
}

// WithGroup implements slog.Handler.
func (h handler) WithGroup(name string) slog.Handler { return handler{h.Handler.WithGroup(name)} }
