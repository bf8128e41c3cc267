package bench_test

import (
	"context"
	"fmt"
	"net"
	"sync"
	"sync/atomic"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/wrapperspb"
)

// asIs hands messages over as bytes: the load that a server is put under does not reckon what clients do on machines of
// their own.
type asIs struct{}

func (asIs) Name() string { return "proto" }

func (asIs) Marshal(message any) ([]byte, error) { return *message.(*[]byte), nil }

func (asIs) Unmarshal(data []byte, into any) error {
	*into.(*[]byte) = data
	return nil
}

// connections are so many connections to a server.
func connections(b testing.TB, address string, n int) []*grpc.ClientConn {
	b.Helper()
	var all []*grpc.ClientConn
	for range n {
		conn, err := grpc.NewClient(address, grpc.WithTransportCredentials(insecure.NewCredentials()))
		if err != nil {
			b.Fatal(err)
		}
		b.Cleanup(func() { _ = conn.Close() })
		all = append(all, conn)
	}
	return all
}

func wire(b testing.TB, message proto.Message) *[]byte {
	b.Helper()
	data, err := proto.Marshal(message)
	if err != nil {
		b.Fatal(err)
	}
	return &data
}

// call calls a method with bytes, and gives those of the answer.
func call(ctx context.Context, conn *grpc.ClientConn, method string, request *[]byte) ([]byte, error) {
	var answer []byte
	err := conn.Invoke(ctx, method, request, &answer, grpc.ForceCodec(asIs{}))
	return answer, err
}

func with(ctx context.Context, token string) context.Context {
	return metadata.AppendToOutgoingContext(ctx, "authorization", "Bearer "+token)
}

// at once runs n calls by so many callers, and gives what they took, s. do is told caller and number.
func atOnce(b testing.TB, callers, n int, do func(caller, number int) error) float64 {
	b.Helper()
	var next atomic.Int64
	var failed atomic.Value
	spent := took(func() {
		var all sync.WaitGroup
		for caller := range callers {
			all.Go(func() {
				for {
					number := int(next.Add(1)) - 1
					if number >= n || failed.Load() != nil {
						return
					}
					if err := do(caller, number); err != nil {
						failed.CompareAndSwap(nil, fmt.Errorf("call %d: %w", number, err))
					}
				}
			})
		}
		all.Wait()
	})
	if err, ok := failed.Load().(error); ok {
		b.Fatal(err)
	}
	return spent
}

// echo serves a method of grpc-go that does nothing but answer with so many bytes; address and method.
func echo(b testing.TB, size int) (address, method string) {
	b.Helper()
	answer := &wrapperspb.BytesValue{Value: make([]byte, size)}
	server := grpc.NewServer()
	server.RegisterService(&grpc.ServiceDesc{
		ServiceName: "bench.Echo", HandlerType: (*any)(nil),
		Methods: []grpc.MethodDesc{{MethodName: "Get", Handler: func(_ any, _ context.Context, decode func(any) error, _ grpc.UnaryServerInterceptor) (any, error) {
			return answer, decode(&wrapperspb.BytesValue{})
		}}},
	}, nil)
	return serve(b, server), "/bench.Echo/Get"
}

// serve answers on loopback until the benchmark ends.
func serve(b testing.TB, server *grpc.Server) string {
	b.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	go func() { _ = server.Serve(listener) }()
	b.Cleanup(server.Stop)
	return listener.Addr().String()
}
