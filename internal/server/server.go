// Package server answers the protocol's calls: it lets the caller in, validates the request, runs the flow, and records
// what came of it. One use case is one transaction.
package server

import (
	"context"
	"crypto/tls"
	"errors"
	"log/slog"
	"runtime/debug"
	"slices"
	"strings"
	"sync"
	"time"

	"buf.build/go/protovalidate"
	"github.com/grpc-ecosystem/go-grpc-middleware/v2/interceptors/recovery"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/encoding"
	"google.golang.org/grpc/health"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/reflection"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/release"
	"gritward/internal/seal"
	"gritward/internal/trail"
	pb "gritward/proto/gritward/v1"
)

// maxMessage is the largest message taken of a member, in bytes: a route file of 16 MiB and what goes round it.
const maxMessage = 17 << 20

// maxStreams is how many calls one connection may have under way.
const maxStreams = 64

// Config is what a server needs.
type Config struct {
	Ledger *ledger.Ledger
	Log    *slog.Logger
	// TLS is nil for plain text, which is for loopback only.
	TLS *tls.Config
	// Folder holds policy files that are adopted when they are edited; nil: none.
	Folder *PolicyFolder
	// RollWatch tells who is overdue; nil: nobody is told.
	RollWatch *RollWatch
	// Forecasts says where forecasts come from.
	Forecasts Forecasts
	// Mail tells that somebody sends letters, so that they are queued; see Post.
	Mail bool
	// PagesAddress is the address below which rosters have their pages; empty: they have none.
	PagesAddress string
	// Limits says how much is taken of whom; the listener must be its Listener for connections to be counted.
	Limits Limits
	// Called is called with each call that comes, and is quick; nil: nobody looks at it.
	Called func()
	// Ahead makes in pauses what was asked for and has changed; nil: nothing is made before it is asked for again.
	Ahead *Ahead
	// Ending ends when the server is to stop: streams end, and health says so. Nil: it never does.
	Ending context.Context
	// Damaged ends, for a cause, when damage was come upon in the store: nothing is served from it any more, and health says
	// so. Nil: that is not to be heard of.
	Damaged context.Context
	// Keys seal emergency contacts. Without them none can be given or read.
	Keys *seal.Keys
	// Counters count what is done; nil: nothing is counted.
	Counters *Counters
	// Options come before the server's own, for what is to know of each call.
	Options []grpc.ServerOption
	// Erasures sees to it that what was erased stays so; nil: without a list outside the store.
	Erasures *Erasures
	// MemberID draws the id of a new member; nil: names.NewMemberID.
	MemberID func() string
	// Entrance says how clients find the server and know it.
	Entrance Entrance
}

// Entrance says how clients find the server and know it; the zero value says nothing.
type Entrance struct {
	// Invite makes of an invite's code the one word to hand over, with address and pins; nil: nothing but the code is told.
	Invite func(code string) string
	// Pins are those of the server's own certificate authority, now and next; nil: it has none.
	Pins func() []string
}

// workers are how many goroutines wait for calls: their stacks have grown to what a call takes, where that of a goroutine made
// for one call has to grow first, see deepen. More calls at once have goroutines of their own. They are made before the first call is taken,
// and touch fresh pages: of 256 the making took some 5 ms on a busy machine, about half of what a start takes from the program's first line until it
// listens. What 256 callers who sign up, or 64 who read a roster, cost the processor was the same with 64.
const workers = 64

// New makes a gRPC server with every service of the protocol, health and reflection. It does not listen yet.
func New(config Config) (*grpc.Server, error) {
	validator := newValidator()
	g := newGate(config)
	d := newDesk(config.Ledger, validator)
	d.mail = config.Mail
	panicked := recovery.WithRecoveryHandlerContext(func(ctx context.Context, cause any) error {
		config.Log.ErrorContext(ctx, "panic", "cause", cause, "stack", string(debug.Stack()))
		return fault.New(pb.Reason_INTERNAL, "the server failed; its log says more")
	})
	creds := insecure.NewCredentials()
	if config.TLS != nil {
		creds = credentials.NewTLS(config.TLS)
	}
	options := append(append(slices.Clone(config.Options), config.Limits.options()...),
		grpc.NumStreamWorkers(workers),
		grpc.Creds(metered{creds}),
		grpc.InTapHandle(g.tap),
		grpc.ForceServerCodecV2(lenient{encoding.GetCodecV2("proto")}),
		grpc.ChainUnaryInterceptor(
			translate(config.Log, config.Counters),
			recovery.UnaryServerInterceptor(panicked),
			g.unary,
			validate(validator),
		),
		grpc.ChainStreamInterceptor(
			translateStream(config.Log, config.Counters),
			recovery.StreamServerInterceptor(panicked),
			g.stream,
			validateStream(validator),
		),
	)
	server := grpc.NewServer(options...)
	erasures := config.Erasures
	if erasures == nil {
		erasures = NewErasures("", config.Ledger, config.Log)
	}
	memberID := config.MemberID
	if memberID == nil {
		memberID = names.NewMemberID
	}
	d.memberID = memberID
	pb.RegisterClubServiceServer(server, &clubService{desk: d, entrance: config.Entrance})
	pb.RegisterBikeServiceServer(server, &bikeService{desk: d})
	pb.RegisterPolicyServiceServer(server, &policyService{desk: d, folder: config.Folder})
	ending := config.Ending
	if ending == nil {
		ending = context.Background()
	}
	rides := &rideService{desk: d, answers: newRosterAnswers(), forecasts: config.Forecasts, pages: config.PagesAddress, ending: ending}
	pb.RegisterRideServiceServer(server, rides)
	pb.RegisterStartServiceServer(server, &startService{rides: rides})
	pb.RegisterRollCallServiceServer(server, &rollCallService{desk: d})
	pb.RegisterPersonalServiceServer(server, &personalService{desk: d, erasures: erasures, keys: config.Keys})
	pb.RegisterIncidentServiceServer(server, &incidentService{desk: d})
	pb.RegisterSeasonServiceServer(server, &seasonService{desk: d})
	healthy := health.NewServer()
	context.AfterFunc(ending, healthy.Shutdown)
	if config.Damaged != nil {
		context.AfterFunc(config.Damaged, func() {
			config.Log.Error("nothing is served any more", "error", context.Cause(config.Damaged))
			healthy.Shutdown()
		})
	}
	if config.Folder != nil {
		config.Folder.join(d, healthy, config.Log)
	}
	if config.Ahead != nil {
		config.Ahead.join(d, config.Log)
		d.madeAhead = config.Ahead
	}
	if config.RollWatch != nil {
		config.RollWatch.join(d, config.Log)
	}
	healthpb.RegisterHealthServer(server, healthy)
	reflection.Register(server)
	return server, nil
}

// translate hands the errors of calls on as statuses.
func translate(log *slog.Logger, counters *Counters) grpc.UnaryServerInterceptor {
	return func(ctx context.Context, request any, info *grpc.UnaryServerInfo, next grpc.UnaryHandler) (any, error) {
		began := time.Now()
		head(ctx, func(heading metadata.MD) error { return grpc.SetHeader(ctx, heading) })
		response, err := next(ctx, request)
		if err := ended(ctx, log, counters, info.FullMethod, began, err); err != nil {
			return nil, err
		}
		return response, nil
	}
}

// ended is the one place where errors become statuses; it logs and counts each call.
func ended(ctx context.Context, log *slog.Logger, counters *Counters, method string, began time.Time, err error) error {
	made := fault.Status(err)
	took := time.Since(began)
	counters.called(method, made.Code(), took)
	counters.refuse(err)
	if err == nil && !log.Enabled(ctx, slog.LevelDebug) {
		return nil
	}
	level, attributes := slog.LevelDebug, []any{"method", method, "code", made.Code().String(), "took", took}
	switch {
	case made.Code() == codes.Internal || made.Code() == codes.Unknown:
		level, attributes = slog.LevelError, append(attributes, "error", err)
	case fault.Is(err, pb.Reason_STORE_FULL):
		level, attributes = slog.LevelError, append(attributes, "error", errors.Unwrap(err))
	}
	log.Log(ctx, level, "call", attributes...)
	return quotable(ctx, made).Err()
}

// versionHeader tells which version answers.
const versionHeader = "gritward-version"

// headings are what goes with every answer: the call's id, and the server's version. gRPC copies what it is given.
var headings = sync.Pool{New: func() any {
	return metadata.MD{trail.Header: {""}, versionHeader: {release.Number()}}
}}

// head sends the heading of a call ahead of its answer.
func head(ctx context.Context, send func(metadata.MD) error) {
	heading := headings.Get().(metadata.MD) //nolint:errcheck,forcetypeassert // of what New makes
	heading[trail.Header][0] = trail.Of(ctx)
	_ = send(heading) // fails only where the call has ended
	headings.Put(heading)
}

// quotable puts the id of the call into an error of ours, for the person who asks what the log says about it.
func quotable(ctx context.Context, made *status.Status) *status.Status {
	id := trail.Of(ctx)
	if id == "" || len(made.Details()) == 0 {
		return made
	}
	if with, err := made.WithDetails(&errdetails.RequestInfo{RequestId: id}); err == nil {
		return with
	}
	return made
}

// validate holds every request against the limits in the protocol.
func validate(validator protovalidate.Validator) grpc.UnaryServerInterceptor {
	return func(ctx context.Context, request any, _ *grpc.UnaryServerInfo, next grpc.UnaryHandler) (any, error) {
		if err := sound(validator, request); err != nil {
			return nil, err
		}
		return next(ctx, request)
	}
}

// sound holds a request against the limits in the protocol, and cleans its texts.
func sound(validator protovalidate.Validator, request any) error {
	message, ok := request.(proto.Message)
	if !ok {
		return nil
	}
	if err := cleaned(message); err != nil {
		return err
	}
	return checked(validator, "", message)
}

// checked turns violations into a FIELD_INVALID that names each field, with the prefix before its path.
func checked(validator protovalidate.Validator, prefix string, message proto.Message) error {
	err := validator.Validate(message)
	var invalid *protovalidate.ValidationError
	if !errors.As(err, &invalid) {
		return err
	}
	made := &fault.Error{Reason: pb.Reason_FIELD_INVALID, Message: fault.NotAsItMustBe}
	for _, violation := range invalid.Violations {
		made.Fields = append(made.Fields, fault.Field{
			Path: strings.TrimSuffix(prefix+protovalidate.FieldPathString(violation.Proto.GetField()), "."),
			What: violation.Proto.GetMessage(),
		})
	}
	return made
}
