package server

import (
	"context"
	"fmt"
	"net"
	"sync"

	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/peer"
)

const (
	// maxStrange is the largest message taken in a call without a token, in bytes, and what a connection may send for
	// each such call.
	maxStrange = 64 << 10
	// maxStrangeAhead is how many bytes a connection that has shown no good token may send beyond what it has sent when a
	// call begins, however many calls it has made.
	maxStrangeAhead = 1 << 20
	// maxHeader is the most that the headers of a call may take, in bytes: a token and what goes round it.
	maxHeader = 16 << 10
)

// meter counts what a connection sends until a good token comes over it. gRPC has one limit for the messages of all
// methods, and applies it before a message is read; what is too large for a stranger has to be stopped below it.
type meter struct {
	net.Conn
	mu       sync.Mutex
	read     int
	allowed  int
	admitted bool
	// crowded: its address has too many connections.
	crowded bool
	// address is that of the other end that counts, as addressOf has it.
	address string
	// inside: it comes from within the process, and carries the calls of many.
	inside bool
}

// Read reads from the connection, and ends it where a stranger has sent more than is taken of one.
func (m *meter) Read(into []byte) (int, error) {
	n, err := m.Conn.Read(into)
	m.mu.Lock()
	defer m.mu.Unlock()
	m.read += n
	if !m.admitted && m.read > m.allowed {
		return 0, fmt.Errorf("%d bytes came without a token, where %d are taken", m.read, m.allowed)
	}
	return n, err
}

// begin allows for one more call of a stranger.
func (m *meter) begin() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.allowed = min(m.allowed+maxStrange, m.read+maxStrangeAhead)
}

// admit ends the counting: who has shown a good token is no stranger.
func (m *meter) admit() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.admitted = true
}

// known tells whether a good token came over the connection, and it is one caller's.
func (m *meter) known() bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.admitted && !m.inside
}

// metered puts a meter on every connection, below TLS where there is any.
type metered struct {
	credentials.TransportCredentials
}

// meteredInfo is what is known of a connection's other end, with its meter.
type meteredInfo struct {
	credentials.AuthInfo
	meter *meter
}

// ServerHandshake begins a connection.
func (m metered) ServerHandshake(raw net.Conn) (net.Conn, credentials.AuthInfo, error) {
	counted := &meter{Conn: raw, allowed: maxStrange, address: addressOf(raw.RemoteAddr())}
	if v, ok := raw.(*visitor); ok {
		counted.crowded = v.crowded
	}
	if _, ok := raw.(insider); ok {
		counted.admitted, counted.inside = true, true
		conn, info, err := insecure.NewCredentials().ServerHandshake(counted)
		return conn, meteredInfo{info, counted}, err
	}
	conn, info, err := m.TransportCredentials.ServerHandshake(counted)
	return conn, meteredInfo{info, counted}, err
}

// Clone copies the credentials.
func (m metered) Clone() credentials.TransportCredentials {
	return metered{m.TransportCredentials.Clone()}
}

// meterOf is the meter of a call's connection.
func meterOf(ctx context.Context) *meter {
	from, _ := peer.FromContext(ctx)
	return from.AuthInfo.(meteredInfo).meter
}

// smallEnough refuses a stranger's message that is larger than is taken of one.
func smallEnough(message any) error { return within(maxStrange, message, "without a token ") }
