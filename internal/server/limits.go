package server

import (
	"net"
	"net/netip"
	"sync"
	"time"

	"golang.org/x/time/rate"
	"google.golang.org/grpc"
	"google.golang.org/grpc/keepalive"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// Limits says how much the server takes of whom. An address is an IPv4 address, or the first 64 bits of an IPv6 address,
// which is what one household or machine has at the least (RFC 6177). A zero sets no limit.
type Limits struct {
	// DeviceCallsMin and AddressCallsMin are calls a minute by one device, and from one address. As many may come at once.
	DeviceCallsMin, AddressCallsMin int
	// FailedSignInsMin is how many bad tokens and invites a minute are looked at from one address. Beyond it neither is
	// looked at on a connection that has not shown a good token.
	FailedSignInsMin int
	// AddressConnections is how many connections an address may have open. On more, each call is refused; beyond twice as
	// many, connections are closed at once.
	AddressConnections int
	// Handshake is how long a connection may take to begin, TLS included.
	Handshake time.Duration
}

// tableSize is how many addresses, and how many devices, are told apart: some MiB at most. Whoever has more addresses
// than that begins with a full measure each time.
const tableSize = 4096

// Common practice, no source: connections that say nothing, or are never ended, do not stay for ever.
const (
	pingLeast = 5 * time.Second  // clients may ping this often, and only while a call is under way: one that listens does every 10 s
	idleMost  = 15 * time.Minute // without a call
	ageMost   = time.Hour        // however busy
	ageGrace  = time.Minute      // for calls under way then
	pingAfter = 2 * time.Minute  // of silence the server asks whether the other end is there
	pingWait  = 20 * time.Second
)

// options are the limits that gRPC itself keeps.
func (l Limits) options() []grpc.ServerOption {
	options := []grpc.ServerOption{
		grpc.MaxHeaderListSize(maxHeader),
		grpc.MaxRecvMsgSize(maxMessage),
		grpc.MaxConcurrentStreams(maxStreams),
		grpc.KeepaliveEnforcementPolicy(keepalive.EnforcementPolicy{MinTime: pingLeast}),
		grpc.KeepaliveParams(keepalive.ServerParameters{
			MaxConnectionIdle: idleMost, MaxConnectionAge: ageMost, MaxConnectionAgeGrace: ageGrace, Time: pingAfter, Timeout: pingWait}),
	}
	if l.Handshake > 0 {
		options = append(options, grpc.ConnectionTimeout(l.Handshake))
	}
	return options
}

// measures are the running counts of all addresses and devices, one token bucket each.
type measures struct {
	perMin  int
	now     func() time.Time
	buckets *cache[*rate.Limiter]
}

func newMeasures(perMin int, now func() time.Time) *measures {
	return &measures{perMin: perMin, now: now, buckets: newCache[*rate.Limiter](tableSize)}
}

func (m *measures) bucket(of string) *rate.Limiter {
	bucket, _ := m.buckets.get(of, func() (*rate.Limiter, error) { // never an error
		return rate.NewLimiter(rate.Limit(float64(m.perMin)/60), m.perMin), nil
	})
	return bucket
}

// take counts one, and tells whether there was one left.
func (m *measures) take(of string) bool { return m.perMin == 0 || m.bucket(of).AllowN(m.now(), 1) }

// spent tells whether there is none left.
func (m *measures) spent(of string) bool { return m.perMin > 0 && m.bucket(of).TokensAt(m.now()) < 1 }

// wait is how long it takes until there is one more.
func (m *measures) wait() time.Duration {
	return (time.Minute / time.Duration(max(m.perMin, 1))).Round(time.Second) + time.Second
}

// tooMany says that a measure is used up.
func (m *measures) tooMany(reason pb.Reason, what string) error {
	return fault.New(reason, "%s; try again in %s", what, m.wait())
}

// addressOf is the address that counts of the other end of a connection; one without an IP address is its own.
func addressOf(from net.Addr) string {
	at, err := netip.ParseAddrPort(from.String())
	if err != nil {
		return from.String()
	}
	ip := at.Addr().Unmap().WithZone("")
	if ip.Is6() {
		prefix, _ := ip.Prefix(64) // never an error for 64 of 128 bits
		return prefix.String()
	}
	return ip.String()
}

// Listener counts the connections of each address that a listener takes.
func (l Limits) Listener(under net.Listener, counters *Counters) net.Listener {
	return &door{Listener: under, most: l.AddressConnections, open: map[string]int{}, counters: counters}
}

type door struct {
	net.Listener
	most int
	mu   sync.Mutex
	open map[string]int
	// counters count those that are closed at once.
	counters *Counters
}

// visitor is a connection that was counted.
type visitor struct {
	net.Conn
	crowded bool
	leave   func()
}

// Close ends the connection, and its counting.
func (v *visitor) Close() error {
	v.leave()
	return v.Conn.Close()
}

// Accept takes the next connection; those far beyond the limit it closes.
func (d *door) Accept() (net.Conn, error) {
	for {
		conn, err := d.Listener.Accept()
		if err != nil || d.most == 0 {
			return conn, err
		}
		address := addressOf(conn.RemoteAddr())
		d.mu.Lock()
		there := d.open[address] + 1
		if there <= 2*d.most {
			d.open[address] = there
		}
		d.mu.Unlock()
		if there > 2*d.most {
			d.counters.shut()
			_ = conn.Close()
			continue
		}
		return &visitor{Conn: conn, crowded: there > d.most, leave: sync.OnceFunc(func() { d.left(address) })}, nil
	}
}

func (d *door) left(address string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.open[address]--; d.open[address] == 0 {
		delete(d.open, address)
	}
}
