package daemon

import (
	"context"
	"io"
	"log/slog"
	"net"
	"testing"
	"time"

	"gritward/internal/ledger"
	"gritward/internal/server"
	"gritward/internal/settings"
	"gritward/internal/store/bolt"
	"gritward/internal/transport"
	"gritward/internal/vitals"
)

// NotAdopted is notAdopted.
var NotAdopted = notAdopted

// ErrNoServer is errNoServer.
var ErrNoServer = errNoServer

// OperatorSocket is operatorSocket.
var OperatorSocket = operatorSocket

// ServeOperator serves the operator's socket until it is stopped.
func ServeOperator(t testing.TB, data string, opened *bolt.Store) (stop func()) {
	return serveOperator(t.Context(), data, opened, nil, nil, slog.New(slog.DiscardHandler))
}

// AskOperator takes a backup by the operator's socket.
func AskOperator(ctx context.Context, data string, to io.Writer) error {
	return askOperator(ctx, data, to, func(int64, int64) {})
}

// ServeOperatorPages serves metrics and health on a free port, and tells where.
func ServeOperatorPages(ctx context.Context, counters *server.Counters, board *vitals.Board) (net.Addr, error) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	serveOperatorPages(ctx, listener, counters, board)
	return listener.Addr(), nil
}

// VitalsOf is what a server of those would tell of itself, which has never looked for who is overdue.
func VitalsOf(t testing.TB, s settings.Server, l *ledger.Ledger, opened *bolt.Store, way *transport.Server, began time.Time, now func() time.Time) vitals.Report {
	known := &running{settings: s, ledger: l, whole: opened.Whole(), ending: t.Context(), way: way, watch: server.NewRollWatch(), now: now, mails: true, began: began}
	return known.board().Report(t.Context())
}

// GaugesOf has a server's gauges told, over TLS of its own making.
func GaugesOf(l *ledger.Ledger, opened *bolt.Store, watch *server.RollWatch, counters *server.Counters, now func() time.Time) {
	ends := func() time.Time { return now().Add(time.Hour) }
	way := &transport.Server{Ends: map[string]func() time.Time{transport.LeafEnds: ends, transport.AuthorityEnds: ends}}
	(&running{ledger: l, way: way, watch: watch, now: now}).gauges(counters)
	counters.Gauge("gritward_store_waiting", func() float64 { return float64(opened.Waiting()) })
}
