//go:build unix

package daemon_test

import (
	"net"
	"syscall"
	"testing"

	collector "go.opentelemetry.io/proto/otlp/collector/trace/v1"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"

	pb "gritward/proto/gritward/v1"
)

// BenchmarkObserved measures the processor time of a call that does little (WhoAmI), with its client: alone, with metrics, and with
// traces that go to a receiver in the same process, whose time counts too.
func BenchmarkObserved(b *testing.B) {
	for _, one := range []struct {
		name   string
		args   []string
		traced bool
	}{{"alone", nil, false}, {"metrics", []string{"--operator-listen", "127.0.0.1:0"}, false}, {"traces", nil, true}} {
		b.Run(one.name, func(b *testing.B) {
			if one.traced {
				listener, err := net.Listen("tcp", "127.0.0.1:0")
				if err != nil {
					b.Fatal(err)
				}
				receiving := grpc.NewServer()
				collector.RegisterTraceServiceServer(receiving, &receiver{came: make(chan struct{}, 1<<20)})
				go func() { _ = receiving.Serve(listener) }()
				b.Cleanup(receiving.Stop)
				b.Setenv("OTEL_EXPORTER_OTLP_ENDPOINT", "http://"+listener.Addr().String())
			}
			data, invite := founded(b)
			clubs := pb.NewClubServiceClient(serving(b, insecure.NewCredentials(), append([]string{"--data", data, "--device-calls-min", "100000", "--address-calls-min", "100000"}, one.args...)...))
			let, err := clubs.AcceptInvite(b.Context(), &pb.AcceptInviteRequest{Code: invite, DeviceTitle: "test"})
			if err != nil {
				b.Fatal(err)
			}
			ctx := metadata.AppendToOutgoingContext(b.Context(), "authorization", "Bearer "+let.Token)
			used := func() int64 {
				var usage syscall.Rusage
				if err := syscall.Getrusage(syscall.RUSAGE_SELF, &usage); err != nil {
					b.Fatal(err)
				}
				return usage.Utime.Nano() + usage.Stime.Nano()
			}
			before := used()
			for b.Loop() {
				if _, err := clubs.WhoAmI(ctx, &pb.WhoAmIRequest{}); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(used()-before)/float64(b.N)/1000, "µs-processor/call")
		})
	}
}
