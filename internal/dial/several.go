// Package dial has a client's connection to one of several servers of the same store: to the next one when that is gone. What may be
// sent again is sent again by itself.
package dial

import (
	"encoding/json"
	"net"
	"strings"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/backoff"
	"google.golang.org/grpc/keepalive"
	"google.golang.org/grpc/resolver"
	"google.golang.org/grpc/resolver/manual"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	pb "gritward/proto/gritward/v1"
)

const (
	// oneTime is how long one of several servers may take to take a connection before the next one is tried, and alone how long the
	// only one may take.
	oneTime = time.Second
	alone   = 5 * time.Second
	// vanished is for how long one of several servers may leave what was sent to it unacknowledged before it is taken to be gone; on Linux
	// by TCP_USER_TIMEOUT (RFC 5482, tcp(7)), which gRPC sets from it. It leaves room for a poor line, and for the next server within 2 s.
	vanished = 1500 * time.Millisecond
	// silence is after how long without a word a server is asked whether it is there, while a call is under way, which for longer than a
	// moment only listening is. gRPC takes no less, and a server of ours allows it every 5 s.
	silence = 10 * time.Second
	// mostTries is how often a call is sent at the most; 5 is all that gRPC takes.
	mostTries = 5
	// firstPause and longestPause are how long is waited before it is sent again, twice as long each time.
	firstPause   = 50 * time.Millisecond
	longestPause = 500 * time.Millisecond
)

// To is the target of a connection to the first of the servers, host:port, that can be reached, and what it is made with. The call
// waits for a server, and is sent again where it came to nothing, if it only reads, or counts once however often it is sent;
// otherwise it fails, and whoever made it looks whether it was done.
func To(servers []string) (target string, options []grpc.DialOption) {
	retry := backoff.Config{BaseDelay: firstPause, Multiplier: 1.6, Jitter: 0.2, MaxDelay: longestPause}
	params := grpc.ConnectParams{Backoff: retry, MinConnectTimeout: alone}
	if len(servers) == 1 {
		return servers[0], []grpc.DialOption{grpc.WithConnectParams(params)}
	}
	params.MinConnectTimeout = oneTime
	known := manual.NewBuilderWithScheme("servers")
	state := resolver.State{}
	for _, address := range servers {
		state.Endpoints = append(state.Endpoints, resolver.Endpoint{Addresses: []resolver.Address{{Addr: address}}})
	}
	known.InitialState(state)
	host, _, _ := net.SplitHostPort(servers[0])
	return "servers:///" + servers[0], []grpc.DialOption{grpc.WithConnectParams(params), grpc.WithResolvers(known), grpc.WithAuthority(host),
		grpc.WithKeepaliveParams(keepalive.ClientParameters{Time: silence, Timeout: vanished}),
		grpc.WithDefaultServiceConfig(readsAgain()), grpc.WithChainUnaryInterceptor(onceAgain)}
}

// reading are the words that the names of methods begin with which write nothing. Reading emergency contacts and incidents leaves an
// entry in the audit log each time, so they are not among them.
var reading = []string{"Get", "List", "WhoAmI", "Plan", "Check", "Compare", "Preview", "Assess", "Explain"}

// readsAgain is the service config (https://github.com/grpc/grpc/blob/master/doc/service_config.md) by which calls that only read
// are sent again while no server can be reached.
func readsAgain() string {
	type name struct {
		Service string `json:"service"`
		Method  string `json:"method"`
	}
	var names []name
	protoregistry.GlobalFiles.RangeFilesByPackage(pb.File_gritward_v1_club_service_proto.Package(), func(file protoreflect.FileDescriptor) bool {
		for i := range file.Services().Len() {
			service := file.Services().Get(i)
			for k := range service.Methods().Len() {
				method := service.Methods().Get(k)
				for _, word := range reading {
					if strings.HasPrefix(string(method.Name()), word) && method.Name() != "GetEmergencyContacts" && !method.IsStreamingServer() {
						names = append(names, name{string(service.FullName()), string(method.Name())})
						break
					}
				}
			}
		}
		return true
	})
	config, _ := json.Marshal(map[string]any{"methodConfig": []any{map[string]any{
		"name": names, "waitForReady": true,
		"retryPolicy": map[string]any{"maxAttempts": mostTries, "initialBackoff": seconds(firstPause), "maxBackoff": seconds(longestPause), "backoffMultiplier": 2, "retryableStatusCodes": []string{"UNAVAILABLE"}},
	}}}) // nothing of it cannot be marshalled
	return string(config)
}

// seconds writes a span as a service config has it.
func seconds(span time.Duration) string {
	text, _ := json.Marshal(span.Seconds())
	return string(text) + "s"
}
