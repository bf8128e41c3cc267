package daemon

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"time"

	"gritward/internal/server"
)

// countersTimeout bounds how long a reader of the counters may take to ask and to be answered.
const countersTimeout = 10 * time.Second

// serveCounters serves the counters on an address of their own until the context ends; "": not at all.
func serveCounters(ctx context.Context, address string, counters *server.Counters) (listening net.Addr, err error) {
	if address == "" {
		return nil, nil
	}
	listener, err := net.Listen("tcp", address)
	if err != nil {
		return nil, fmt.Errorf("cannot listen on %s for the counters: %w", address, err)
	}
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", counters.Handler())
	answering := &http.Server{Handler: mux, ReadTimeout: countersTimeout, WriteTimeout: countersTimeout, IdleTimeout: time.Minute}
	go func() { _ = answering.Serve(listener) }() // ends with the context
	context.AfterFunc(ctx, func() { _ = answering.Close() })
	return listener.Addr(), nil
}
