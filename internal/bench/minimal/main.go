// Command minimal is the least that a gRPC server of a store can be: it listens, opens a bbolt file, and answers a call
// with so many bytes from it. The program's server is measured beside it.
//
//	minimal ADDRESS FILE
package main

import (
	"context"
	"fmt"
	"net"
	"os"

	"go.etcd.io/bbolt"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/types/known/wrapperspb"
)

func main() {
	if err := run(os.Args[1], os.Args[2]); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(address, path string) error {
	db, err := bbolt.Open(path, 0o600, nil)
	if err != nil {
		return err
	}
	listener, err := net.Listen("tcp", address)
	if err != nil {
		return err
	}
	server := grpc.NewServer()
	server.RegisterService(&grpc.ServiceDesc{
		ServiceName: "bench.Minimal", HandlerType: (*any)(nil),
		Methods: []grpc.MethodDesc{{MethodName: "Get", Handler: func(_ any, _ context.Context, decode func(any) error, _ grpc.UnaryServerInterceptor) (any, error) {
			asked, answer := &wrapperspb.StringValue{}, &wrapperspb.BytesValue{}
			if err := decode(asked); err != nil {
				return nil, err
			}
			return answer, db.View(func(tx *bbolt.Tx) error {
				if bucket := tx.Bucket([]byte("clubs")); bucket != nil {
					answer.Value = append([]byte{}, bucket.Get([]byte(asked.Value))...)
				}
				return nil
			})
		}}},
	}, nil)
	return server.Serve(listener)
}
