package server

import (
	"context"
	"io"
	"net"
	"sync"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/test/bufconn"
)

// addressKey is the metadata with the address that a call inside the process is made for. It counts on connections
// through an Inside alone: anybody else could say anything.
const addressKey = "gritward-address"

// insideBytes is how much may be under way in each direction of a connection inside the process.
const insideBytes = 256 << 10

// Inside is a way to the server within its own process, for what answers people on behalf of the server, as the pages do.
// Calls on it are let in, measured and answered like any others. Serve the gRPC server on it, beside its other listeners.
type Inside struct {
	*bufconn.Listener
}

// NewInside makes a way that nothing listens on yet.
func NewInside() *Inside { return &Inside{bufconn.Listen(insideBytes)} }

// insider is a connection from within the process.
type insider struct{ net.Conn }

// Accept takes the next connection.
func (i *Inside) Accept() (net.Conn, error) {
	conn, err := i.Listener.Accept()
	if err != nil {
		return nil, err
	}
	return insider{conn}, nil
}

// Conn makes what calls the server. Streams are spread over connections, since one carries no more than maxStreams calls.
func (i *Inside) Conn() (*InsideConn, error) {
	c := &InsideConn{dial: i.dial}
	var err error
	c.calls, err = i.dial()
	return c, err
}

func (i *Inside) dial() (*grpc.ClientConn, error) {
	return grpc.NewClient("passthrough:inside", grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(maxAnswer)),
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return i.DialContext(ctx) }))
}

// maxAnswer is the largest answer taken inside the process, in bytes. The server made it, and has it in memory already.
const maxAnswer = 64 << 20

// InsideConn calls the server from within its process.
type InsideConn struct {
	dial    func() (*grpc.ClientConn, error)
	calls   *grpc.ClientConn
	mu      sync.Mutex
	streams []*streamed
}

var _ grpc.ClientConnInterface = (*InsideConn)(nil)
var _ io.Closer = (*InsideConn)(nil)

// streamed is a connection for streams, and how many it has under way.
type streamed struct {
	*grpc.ClientConn
	open int
}

// Invoke makes a call.
func (c *InsideConn) Invoke(ctx context.Context, method string, args, reply any, opts ...grpc.CallOption) error {
	return c.calls.Invoke(ctx, method, args, reply, opts...)
}

// NewStream begins a stream, which ends no later than ctx.
func (c *InsideConn) NewStream(ctx context.Context, desc *grpc.StreamDesc, method string, opts ...grpc.CallOption) (grpc.ClientStream, error) {
	on, err := c.roomy()
	if err != nil {
		return nil, err
	}
	stream, err := on.ClientConn.NewStream(ctx, desc, method, opts...)
	if err != nil {
		c.leave(on)
		return nil, err
	}
	context.AfterFunc(stream.Context(), func() { c.leave(on) })
	return stream, nil
}

// roomy is a connection that takes one more stream.
func (c *InsideConn) roomy() (*streamed, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, on := range c.streams {
		if on.open < maxStreams {
			on.open++
			return on, nil
		}
	}
	conn, err := c.dial()
	if err != nil {
		return nil, err
	}
	c.streams = append(c.streams, &streamed{conn, 1})
	return c.streams[len(c.streams)-1], nil
}

func (c *InsideConn) leave(on *streamed) {
	c.mu.Lock()
	defer c.mu.Unlock()
	on.open--
}

// Close ends all connections.
func (c *InsideConn) Close() error {
	c.mu.Lock()
	defer c.mu.Unlock()
	err := c.calls.Close()
	for _, on := range c.streams {
		if closeErr := on.Close(); err == nil {
			err = closeErr
		}
	}
	return err
}

// from is the address that a call comes from, or is made for.
func from(ctx context.Context) string {
	meter := meterOf(ctx)
	if meter.inside {
		if said := metadata.ValueFromIncomingContext(ctx, addressKey); len(said) == 1 {
			return said[0]
		}
	}
	return meter.address
}

// CalledFor has calls through an Inside measured as coming from an address: host:port, or a host alone.
func CalledFor(ctx context.Context, remote string) context.Context {
	if net.ParseIP(remote) != nil {
		remote = net.JoinHostPort(remote, "0")
	}
	return metadata.AppendToOutgoingContext(ctx, addressKey, addressOf(spoken(remote)))
}

// spoken is an address in words.
type spoken string

// Network implements net.Addr.
func (spoken) Network() string { return "tcp" }

func (s spoken) String() string { return string(s) }
