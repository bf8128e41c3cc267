package cli

import (
	"context"
	"errors"
	"fmt"
	"net"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/connectivity"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"

	"gritward/internal/dial"
	"gritward/internal/settings"
	"gritward/internal/transport"
)

// maxAnswer is the largest answer taken, in bytes: twice the largest route.
const maxAnswer = 32 << 20

// dial makes the connection and waits a while for it, so that a server that is just starting is not missed. It gives no
// error when nobody answers: the first call then says why.
func (a *app) dial(ctx context.Context, set settings.Client) (*grpc.ClientConn, error) {
	creds, err := a.credentials(set)
	if err != nil {
		return nil, err
	}
	target, several := dial.To(set.Servers())
	options := append([]grpc.DialOption{
		grpc.WithTransportCredentials(creds),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(maxAnswer)),
		grpc.WithUnaryInterceptor(deadline(a.timeout)), // before those of several: one time for all that is sent
	}, several...)
	if set.Token != "" {
		options = append(options, grpc.WithPerRPCCredentials(bearer{set.Token, set.Plain()}))
	}
	conn, err := grpc.NewClient(target, options...)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be used as the server's address: %w", set.Server, err)
	}
	a.waitReady(ctx, conn, a.wait)
	return conn, nil
}

func (a *app) waitReady(ctx context.Context, conn *grpc.ClientConn, wait time.Duration) {
	ctx, cancel := context.WithTimeout(ctx, wait)
	defer cancel()
	conn.Connect()
	for state := conn.GetState(); state != connectivity.Ready; state = conn.GetState() {
		if !conn.WaitForStateChange(ctx, state) || a.refused.Load() != nil {
			return // waiting does not make a server trusted
		}
		conn.Connect() // out of idleness, if it fell back there
	}
}

// deadline gives every call its time.
func deadline(timeout time.Duration) grpc.UnaryClientInterceptor {
	return func(ctx context.Context, method string, request, answer any, conn *grpc.ClientConn,
		invoke grpc.UnaryInvoker, options ...grpc.CallOption) error {
		ctx, cancel := context.WithTimeout(ctx, timeout)
		defer cancel()
		return invoke(ctx, method, request, answer, conn, options...)
	}
}

// credentials are none to this machine, and TLS 1.3 to any other.
func (a *app) credentials(set settings.Client) (credentials.TransportCredentials, error) {
	if set.Plain() {
		return insecure.NewCredentials(), nil
	}
	pins, err := set.Pins()
	if err != nil {
		return nil, err
	}
	if len(pins) > 0 && set.CAFile != "" {
		return nil, errors.New("ca_file does not go with server_pins, which alone are trusted\n  next: leave one of them out of the settings")
	}
	host, _, err := net.SplitHostPort(set.Servers()[0]) // the certificates of all must have the name of the first
	if err != nil {
		return nil, err
	}
	config, err := transport.NewClient(transport.ClientConfig{
		Host: host, Pins: pins, CAFile: set.CAFile, Now: a.io.Now, Refused: func(r *transport.Refusal) { a.refused.Store(r) }})
	if err != nil {
		return nil, err
	}
	return credentials.NewTLS(config), nil
}

// bearer sends the token with every call, and never in plain text to another machine.
type bearer struct {
	token settings.Secret
	plain bool
}

// GetRequestMetadata gives the header of a call.
func (b bearer) GetRequestMetadata(context.Context, ...string) (map[string]string, error) {
	return map[string]string{"authorization": "Bearer " + b.token.Reveal()}, nil
}

// RequireTransportSecurity tells whether the token may go over TLS only.
func (b bearer) RequireTransportSecurity() bool { return !b.plain }
