//go:build !unix

package daemon

import (
	"context"
	"errors"
	"log/slog"
)

var errRestart = errors.New("the server is started again")

func restartOn(context.Context, *slog.Logger, context.CancelCauseFunc) (end func()) { return func() {} }

func (s *sockets) restart() error { return errors.New("sockets cannot be handed over on this system") }

func closeOnExec(int) {}
