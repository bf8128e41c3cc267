// Command gritwardd is the server: it keeps a club's bikes, policy and rides, and answers the protocol's calls.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"gritward/internal/daemon"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(daemon.Main(ctx, os.Args[1:], os.Stdout, os.Stderr))
}
