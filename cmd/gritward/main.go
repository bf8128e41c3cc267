// Command gritward is the client: see gritward --help.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"gritward/internal/cli"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := cli.Main(ctx, os.Args[1:], cli.FromProcess())
	stop()
	os.Exit(code)
}
