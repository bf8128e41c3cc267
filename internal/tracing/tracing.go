// Package tracing sends a span of each call to a receiver of OTLP, when the environment names one by the names of the OpenTelemetry
// specification: OTEL_EXPORTER_OTLP_ENDPOINT, or OTEL_EXPORTER_OTLP_TRACES_ENDPOINT, with the rest of OTEL_EXPORTER_OTLP_*,
// OTEL_SERVICE_NAME, OTEL_RESOURCE_ATTRIBUTES, OTEL_TRACES_SAMPLER and OTEL_BSP_*. Without it nothing is made, and calls cost nothing.
// A span is called by its method, and has what the method and the gRPC code are, how long it took, and the request id: nothing of
// what was asked or answered, and nothing of who did.
package tracing

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"strings"
	"time"

	"go.opentelemetry.io/otel"
	"go.opentelemetry.io/otel/attribute"
	"go.opentelemetry.io/otel/codes"
	"go.opentelemetry.io/otel/exporters/otlp/otlptrace/otlptracegrpc"
	"go.opentelemetry.io/otel/propagation"
	"go.opentelemetry.io/otel/sdk/resource"
	"go.opentelemetry.io/otel/sdk/trace"
	api "go.opentelemetry.io/otel/trace"
	"google.golang.org/grpc"
	grpccodes "google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"

	"gritward/internal/trail"
)

// Endpoint is where the environment says that spans go; "": nowhere.
func Endpoint() string {
	if strings.EqualFold(os.Getenv("OTEL_SDK_DISABLED"), "true") {
		return ""
	}
	for _, name := range []string{"OTEL_EXPORTER_OTLP_TRACES_ENDPOINT", "OTEL_EXPORTER_OTLP_ENDPOINT"} {
		if at := os.Getenv(name); at != "" {
			return at
		}
	}
	return ""
}

// Tracer sends spans. A nil one sends none.
type Tracer struct {
	provider *trace.TracerProvider
	tracer   api.Tracer
}

// New makes what sends spans to the receiver that the environment names; nil: it names none. What cannot be sent goes to the log, and
// calls are answered all the same.
func New(ctx context.Context, version string, log *slog.Logger) (*Tracer, error) {
	if Endpoint() == "" {
		return nil, nil
	}
	if with := os.Getenv("OTEL_EXPORTER_OTLP_PROTOCOL"); with != "" && with != "grpc" {
		return nil, fmt.Errorf("OTEL_EXPORTER_OTLP_PROTOCOL: %q is not spoken; take the variable out, or write grpc, and name the receiver's gRPC port (4317)", with)
	}
	exporter, err := otlptracegrpc.New(ctx) // connects when there is something to send
	if err != nil {
		return nil, fmt.Errorf("the receiver of traces at %s cannot be used: %w; see OTEL_EXPORTER_OTLP_ENDPOINT", Endpoint(), err)
	}
	is, err := resource.New(ctx, resource.WithAttributes(attribute.String("service.name", "gritwardd"), attribute.String("service.version", version)), resource.WithFromEnv())
	if err != nil {
		return nil, fmt.Errorf("OTEL_RESOURCE_ATTRIBUTES: %w", err)
	}
	otel.SetErrorHandler(otel.ErrorHandlerFunc(func(err error) { log.Warn("traces cannot be sent", "error", err) }))
	provider := trace.NewTracerProvider(trace.WithBatcher(exporter), trace.WithResource(is))
	return &Tracer{provider: provider, tracer: provider.Tracer("gritward")}, nil
}

// lastSend is how long what is left may take to be sent when the server stops.
const lastSend = 3 * time.Second

// Stop sends what is left.
func (t *Tracer) Stop() {
	if t == nil {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), lastSend)
	defer cancel()
	_ = t.provider.Shutdown(ctx) // told to the log
}

// Options have a gRPC server send a span of each call.
func (t *Tracer) Options() []grpc.ServerOption {
	if t == nil {
		return nil
	}
	return []grpc.ServerOption{grpc.ChainUnaryInterceptor(t.unary), grpc.ChainStreamInterceptor(t.stream)}
}

func (t *Tracer) unary(ctx context.Context, request any, info *grpc.UnaryServerInfo, next grpc.UnaryHandler) (any, error) {
	ctx, span := t.begin(ctx, info.FullMethod)
	response, err := next(ctx, request)
	end(span, err)
	return response, err
}

func (t *Tracer) stream(server any, stream grpc.ServerStream, info *grpc.StreamServerInfo, next grpc.StreamHandler) error {
	ctx, span := t.begin(stream.Context(), info.FullMethod)
	err := next(server, tracedStream{stream, ctx})
	end(span, err)
	return err
}

// tracedStream is a stream with its span in the context.
type tracedStream struct {
	grpc.ServerStream
	ctx context.Context
}

// Context has the span in it.
func (s tracedStream) Context() context.Context { return s.ctx }

// begin begins a span, below that of the caller where it came with one (W3C Trace Context). Names are those of OpenTelemetry's semantic
// conventions for gRPC.
func (t *Tracer) begin(ctx context.Context, method string) (context.Context, api.Span) {
	given, _ := metadata.FromIncomingContext(ctx)
	ctx = propagation.TraceContext{}.Extract(ctx, carrier(given))
	method = strings.TrimPrefix(method, "/")
	service, name, _ := strings.Cut(method, "/")
	return t.tracer.Start(ctx, method, api.WithSpanKind(api.SpanKindServer), api.WithAttributes(
		attribute.String("rpc.system", "grpc"), attribute.String("rpc.service", service), attribute.String("rpc.method", name),
		attribute.String("gritward.request_id", trail.Of(ctx))))
}

// end ends a span. A refusal is no failure of the server: the conventions have so for a server's span.
func end(span api.Span, err error) {
	code := status.Code(err)
	span.SetAttributes(attribute.Int("rpc.grpc.status_code", int(code)))
	switch code {
	case grpccodes.Unknown, grpccodes.DeadlineExceeded, grpccodes.Unimplemented, grpccodes.Internal, grpccodes.Unavailable, grpccodes.DataLoss:
		span.SetStatus(codes.Error, "") // the message may tell of somebody
	}
	span.End()
}

// carrier reads the metadata of a call.
type carrier metadata.MD

// Get implements propagation.TextMapCarrier.
func (c carrier) Get(key string) string {
	if values := metadata.MD(c).Get(key); len(values) > 0 {
		return values[0]
	}
	return ""
}

// Set implements propagation.TextMapCarrier; nothing is written.
func (c carrier) Set(string, string) {}

// Keys implements propagation.TextMapCarrier.
func (c carrier) Keys() []string {
	keys := make([]string, 0, len(c))
	for key := range c {
		keys = append(keys, key)
	}
	return keys
}
