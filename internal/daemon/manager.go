package daemon

import (
	"context"
	"errors"
	"net"
	"os"
	"strconv"
	"strings"
	"time"

	"gritward/internal/ledger"
)

// manager is the service manager that started the server, which hears of its state by a datagram to the socket that NOTIFY_SOCKET names
// (sd_notify(3)). Without one nobody hears.
type manager struct{ at string }

func theManager() manager { return manager{os.Getenv("NOTIFY_SOCKET")} }

// tell sends assignments, one a line. What cannot be sent is of no weight: the manager then goes by its own time limits.
func (m manager) tell(state ...string) {
	if m.at == "" {
		return
	}
	name := m.at
	if name[0] == '@' {
		name = "\x00" + name[1:] // of the abstract namespace
	}
	conn, err := net.DialUnix("unixgram", nil, &net.UnixAddr{Name: name, Net: "unixgram"})
	if err != nil {
		return
	}
	defer conn.Close()
	_, _ = conn.Write([]byte(strings.Join(state, "\n")))
}

// watchdog tells the manager that the server is alive, as often as it asks for, while records can be read: a server whose store hangs is
// started again. A damaged store is no reason: nothing would be better after it.
func (m manager) watchdog(ctx context.Context, l *ledger.Ledger) {
	usec, err := strconv.Atoi(os.Getenv("WATCHDOG_USEC"))
	if pid := os.Getenv("WATCHDOG_PID"); err != nil || usec <= 0 || m.at == "" || pid != "" && pid != strconv.Itoa(os.Getpid()) {
		return
	}
	every := time.Duration(usec) * time.Microsecond / 2
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		looked := make(chan error, 1)
		go func() { _, err := l.Clubs(ctx); looked <- err }()
		select {
		case <-looked:
			m.tell("WATCHDOG=1")
		case <-time.After(every):
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// stopping tells the manager why the server ends. A server that is started again stays the same process.
func (m manager) stopping(cause error) {
	if errors.Is(cause, errRestart) {
		m.tell("RELOADING=1", "MONOTONIC_USEC="+strconv.FormatInt(monotonic(), 10))
		return
	}
	m.tell("STOPPING=1")
}
