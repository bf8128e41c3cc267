//go:build unix

package daemon

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"os/exec"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"golang.org/x/sys/unix"
)

// errRestart ends a server that makes room for the next one.
var errRestart = errors.New("the server is started again")

// checkMost bounds how long the next program may take to read the settings.
const checkMost = 30 * time.Second

// restartOn has SIGUSR2 end the server for the next one, until end is called: the program that lies there by now reads the settings
// first, and where it does not start the server stays.
func restartOn(ctx context.Context, log *slog.Logger, stop context.CancelCauseFunc) (end func()) {
	asked := make(chan os.Signal, 1)
	signal.Notify(asked, syscall.SIGUSR2)
	within, cancel := context.WithCancel(ctx)
	go func() {
		for {
			select {
			case <-within.Done():
				return
			case <-asked:
			}
			if err := nextStarts(within); err != nil {
				log.Error("the server was not started again, and goes on as it is", "error", err)
				continue
			}
			log.Info("the server is started again: calls under way are finished, and who calls meanwhile waits")
			stop(errRestart)
			return
		}
	}()
	return func() { signal.Stop(asked); cancel() }
}

// nextStarts has the program that lies there by now read the settings.
func nextStarts(ctx context.Context) error {
	path, err := program()
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, checkMost)
	defer cancel()
	check := exec.CommandContext(ctx, path, append(os.Args[1:], "--only-check")...)
	check.Args[0] = os.Args[0]
	if said, err := check.CombinedOutput(); err != nil {
		return fmt.Errorf("%s does not start: %w: %.2000s", path, err, said)
	}
	return nil
}

// program is where the program lies, also when another one has taken its place since it was started.
func program() (string, error) {
	path, err := os.Executable()
	return strings.TrimSuffix(path, " (deleted)"), err
}

// restart becomes the program that lies there by now, in the same process, with the sockets. It comes back only when that fails.
func (s *sockets) restart() error {
	path, err := program()
	if err != nil {
		return err
	}
	var handed []string
	for key, file := range s.kept {
		raw, err := file.SyscallConn() // Fd would have the socket block
		if err != nil {
			return err
		}
		var fd uintptr
		if err := raw.Control(func(is uintptr) {
			fd = is
			_, _ = unix.FcntlInt(is, unix.F_SETFD, 0) // it stays open
		}); err != nil {
			return err
		}
		handed = append(handed, fmt.Sprintf("%s=%d", key, fd))
	}
	err = syscall.Exec(path, os.Args, append(os.Environ(), socketsEnv+"="+strings.Join(handed, ",")))
	return fmt.Errorf("%s could not be started again: %w", path, err)
}

func closeOnExec(fd int) { syscall.CloseOnExec(fd) }
