package server

import (
	"context"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/tap"

	"gritward/internal/fault"
	"gritward/internal/store"
	"gritward/internal/trail"
	pb "gritward/proto/gritward/v1"
)

// tap decides on a call before its message is read, so that nobody who is refused can make the server hold large
// messages. gRPC waits for it, so it does nothing slow. Each call gets its id here.
func (g *gate) tap(ctx context.Context, info *tap.Info) (context.Context, error) {
	ctx = trail.With(ctx, trail.Pick(info.Header.Get(trail.Header)))
	g.called()
	who, err := g.tapped(ctx, info)
	if err != nil {
		g.counters.refuse(err)
		made := fault.Status(err)
		if made.Code() == codes.Internal {
			g.log.ErrorContext(ctx, "call", "method", info.FullMethodName, "error", err)
		}
		return ctx, quotable(ctx, made).Err()
	}
	if who != nil {
		ctx = context.WithValue(ctx, tappedKey{}, who)
	}
	return ctx, nil
}

// tappedKey is for whom the tap found a call to come from: who is let in is found again, where the store has changed since.
type tappedKey struct{}

// tapped refuses a call over the limits, and one without a good token; in a call that needs none the stranger's
// connection is held to a small one, and there is no caller.
func (g *gate) tapped(ctx context.Context, info *tap.Info) (*caller, error) {
	ctx = metadata.NewIncomingContext(ctx, info.Header)
	meter, address := meterOf(ctx), from(ctx)
	meter.begin()
	if meter.crowded {
		return nil, fault.New(pb.Reason_TOO_MANY_CONNECTIONS, "your address has too many connections open; close some")
	}
	if !g.addresses.take(address) {
		return nil, g.addresses.tooMany(pb.Reason_TOO_MANY_CALLS, "too many calls come from your address")
	}
	called, _ := methodOf(info.FullMethodName)
	stranger := called.access.GetAnyone()
	if open(info.FullMethodName) {
		return nil, nil
	}
	if !meter.known() && g.failed.spent(address) {
		return nil, g.failed.tooMany(pb.Reason_TOO_MANY_SIGN_INS, "too many bad tokens or invites came from your address")
	}
	if stranger {
		return nil, nil
	}
	// Over a store on other machines a look at the newest would hold up all calls of the connection. Whom an older state lets in is
	// found anew in the transaction of the use case; whom it refuses may be new. A store that does not answer is waited for once.
	who, err := g.identify(store.WithAge(ctx, aMoment))
	if err != nil && !fault.Is(err, pb.Reason_UNAVAILABLE) {
		who, err = g.identify(ctx)
	}
	if err != nil {
		if fault.Is(err, pb.Reason_NOT_SIGNED_IN) && len(info.Header.Get("authorization")) > 0 {
			g.failed.take(address)
		}
		return nil, err
	}
	if !g.devices.take(who.device.Name) {
		return nil, g.devices.tooMany(pb.Reason_TOO_MANY_CALLS, "too many calls come from your device")
	}
	meter.admit()
	return who, nil
}
