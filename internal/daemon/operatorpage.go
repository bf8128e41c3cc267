package daemon

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"time"

	"gritward/internal/server"
	"gritward/internal/vitals"
)

// operatorTimeout bounds how long a reader of the operator's pages may take to ask and to be answered.
const operatorTimeout = 10 * time.Second

// serveOperatorPages serves metrics and health on a listener of their own until the context ends; nil: not at all.
func serveOperatorPages(ctx context.Context, listener net.Listener, counters *server.Counters, board *vitals.Board) {
	if listener == nil {
		return
	}
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", counters.Handler())
	mux.Handle("GET /healthz", board)
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, _ *http.Request) {
		fmt.Fprint(w, "/healthz  how the server is, and why; ?json for programs\n/metrics  counters in the Prometheus text format\n")
	})
	answering := &http.Server{Handler: mux, ReadTimeout: operatorTimeout, WriteTimeout: operatorTimeout, IdleTimeout: time.Minute}
	go func() { _ = answering.Serve(listener) }() // ends with the context
	context.AfterFunc(ctx, func() { _ = answering.Close() })
}
