package daemon_test

import (
	"context"
	"net"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	collector "go.opentelemetry.io/proto/otlp/collector/trace/v1"
	otlp "go.opentelemetry.io/proto/otlp/trace/v1"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"
	"google.golang.org/protobuf/encoding/protojson"

	pb "gritward/proto/gritward/v1"
)

// receiver is a receiver of OTLP, by the protocol's public definition.
type receiver struct {
	collector.UnimplementedTraceServiceServer
	mu    sync.Mutex
	spans []*otlp.ResourceSpans
	came  chan struct{}
}

// Export implements TraceService.
func (r *receiver) Export(_ context.Context, request *collector.ExportTraceServiceRequest) (*collector.ExportTraceServiceResponse, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.spans = append(r.spans, request.ResourceSpans...)
	r.came <- struct{}{}
	return &collector.ExportTraceServiceResponse{}, nil
}

// TestTraces has a server send its spans to a receiver: each is called by its method, lies below the caller's, and has nothing in it of
// what was asked, of who asked, or of where from.
func TestTraces(t *testing.T) {
	got := &receiver{came: make(chan struct{}, 100)}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := grpc.NewServer()
	collector.RegisterTraceServiceServer(server, got)
	go func() { _ = server.Serve(listener) }()
	t.Cleanup(server.Stop)
	t.Setenv("OTEL_EXPORTER_OTLP_ENDPOINT", "http://"+listener.Addr().String())
	t.Setenv("OTEL_BSP_SCHEDULE_DELAY", "50")
	data, invite := founded(t)
	conn := serving(t, insecure.NewCredentials(), "--data", data)
	clubs := pb.NewClubServiceClient(conn)
	let, err := clubs.AcceptInvite(t.Context(), &pb.AcceptInviteRequest{Code: invite, DeviceTitle: "blue telephone"})
	if err != nil {
		t.Fatal(err)
	}
	// The parent is that of the example in W3C Trace Context, section 3.2.2.5.
	ctx := metadata.AppendToOutgoingContext(t.Context(), "authorization", "Bearer "+let.Token, "x-request-id", "desk-4",
		"traceparent", "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01")
	if _, err := clubs.GetMember(ctx, &pb.GetMemberRequest{Name: "clubs/fenwick/members/ida-rook"}); err == nil {
		t.Fatal("there is a member of that name")
	}
	found := map[string]*otlp.Span{}
	raw := ""
	for until := time.After(time.Minute); found["gritward.v1.ClubService/GetMember"] == nil; {
		select {
		case <-got.came:
		case <-until:
			t.Fatalf("the span did not come: %v", found)
		}
		got.mu.Lock()
		for _, resource := range got.spans {
			raw += protojson.Format(resource)
			for _, scope := range resource.ScopeSpans {
				for _, span := range scope.Spans {
					found[span.Name] = span
				}
			}
		}
		got.mu.Unlock()
	}
	span := found["gritward.v1.ClubService/GetMember"]
	if string(span.TraceId) != "\x4b\xf9\x2f\x35\x77\xb3\x4d\xa6\xa3\xce\x92\x9d\x0e\x0e\x47\x36" || span.Kind != otlp.Span_SPAN_KIND_SERVER || span.EndTimeUnixNano <= span.StartTimeUnixNano {
		t.Errorf("%s", protojson.Format(span))
	}
	attributes := map[string]string{}
	for _, one := range span.Attributes {
		attributes[one.Key] = one.Value.String()
	}
	if len(attributes) != 5 || !strings.Contains(attributes["gritward.request_id"], "desk-4") || !strings.Contains(attributes["rpc.grpc.status_code"], "5") || !strings.Contains(attributes["rpc.method"], "GetMember") {
		t.Errorf("%v", attributes)
	}
	for name := range found {
		if !slices.Contains([]string{"gritward.v1.ClubService/AcceptInvite", "gritward.v1.ClubService/GetMember"}, name) {
			t.Errorf("a span is called %q", name)
		}
	}
	for _, personal := range []string{"ida", "Rook", "fenwick", invite, let.Token, "blue telephone", "127.0.0.1"} {
		if strings.Contains(raw, personal) {
			t.Errorf("spans tell %q: %s", personal, raw)
		}
	}
	if !strings.Contains(raw, "gritwardd") {
		t.Error("spans do not say whose they are")
	}
}

// TestTracesWrong: a protocol that is not spoken is told before anybody waits for spans; a receiver that is not there keeps no call.
func TestTracesWrong(t *testing.T) {
	data, invite := founded(t)
	t.Setenv("OTEL_EXPORTER_OTLP_ENDPOINT", "http://127.0.0.1:1")
	t.Setenv("OTEL_EXPORTER_OTLP_PROTOCOL", "http/protobuf")
	if code, _, errOut := run(t, "serve", "--data", data, "--listen", "127.0.0.1:0"); code != 1 || !strings.Contains(errOut, "write grpc") {
		t.Errorf("exit %d: %s", code, errOut)
	}
	t.Setenv("OTEL_EXPORTER_OTLP_PROTOCOL", "grpc")
	t.Setenv("OTEL_EXPORTER_OTLP_TIMEOUT", "100")
	conn := serving(t, insecure.NewCredentials(), "--data", data)
	if _, err := pb.NewClubServiceClient(conn).AcceptInvite(t.Context(), &pb.AcceptInviteRequest{Code: invite, DeviceTitle: "test"}); err != nil {
		t.Error(err)
	}
}
