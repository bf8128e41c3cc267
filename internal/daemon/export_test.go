package daemon

import (
	"context"
	"io"
	"log/slog"
	"testing"

	"gritward/internal/store/bolt"
)

// ErrNoServer is errNoServer.
var ErrNoServer = errNoServer

// OperatorSocket is operatorSocket.
var OperatorSocket = operatorSocket

// ServeOperator serves the operator's socket until it is stopped.
func ServeOperator(t testing.TB, data string, opened *bolt.Store) (stop func()) {
	return serveOperator(t.Context(), data, opened, slog.New(slog.DiscardHandler))
}

// AskOperator takes a backup by the operator's socket.
func AskOperator(ctx context.Context, data string, to io.Writer) error {
	return askOperator(ctx, data, to, func(int64, int64) {})
}

// ServeCounters is serveCounters.
var ServeCounters = serveCounters
