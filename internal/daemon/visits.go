package daemon

import (
	"context"
	"crypto/tls"
	"net"
	"net/http"
	"sync"
	"time"
)

// visits are the connections of browsers that wait for an answer. net/http (since Go 1.26 at the latest) closes a connection whose request it
// reads while it shuts down, without an answer, and a browser takes that for a failure where the connection is new: so
// the server is shut down only when all have theirs.
type visits struct {
	mu sync.Mutex
	// open has those that are new, and those with a request.
	open map[net.Conn]http.ConnState
}

// note is a http.Server's ConnState. Connections of HTTP/2 end in order by themselves: their browser is told which requests were not
// taken (RFC 9113, section 6.8).
func (v *visits) note(conn net.Conn, state http.ConnState) {
	if secure, ok := conn.(*tls.Conn); ok && secure.ConnectionState().NegotiatedProtocol == "h2" {
		state = http.StateIdle
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	switch state {
	case http.StateNew, http.StateActive:
		if v.open == nil {
			v.open = map[net.Conn]http.ConnState{}
		}
		v.open[conn] = state
	default:
		delete(v.open, conn)
	}
}

// waiting tells whether one has a request, or is new.
func (v *visits) waiting() (asked, fresh bool) {
	v.mu.Lock()
	defer v.mu.Unlock()
	for _, state := range v.open {
		asked, fresh = asked || state == http.StateActive, fresh || state == http.StateNew
	}
	return asked, fresh
}

// lookAgain is how often connections are looked at while the server ends.
const lookAgain = 2 * time.Millisecond

// end waits until all are answered, at most until the context ends. One that is new has its while to ask in: browsers open
// some for later.
func (v *visits) end(ctx context.Context) {
	tick := time.NewTicker(lookAgain)
	defer tick.Stop()
	late := time.After(leaveMost)
	for soon := true; ; {
		if asked, fresh := v.waiting(); !asked && !(fresh && soon) {
			return
		}
		select {
		case <-ctx.Done():
			return
		case <-late:
			soon = false
		case <-tick.C:
		}
	}
}
