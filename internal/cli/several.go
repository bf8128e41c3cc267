package cli

import (
	"encoding/json"
	"net"
	"strings"

	"google.golang.org/grpc"
	"google.golang.org/grpc/resolver"
	"google.golang.org/grpc/resolver/manual"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	pb "gritward/proto/gritward/v1"
)

// several has a connection to the first of several servers that can be reached, and to the next one when it is gone. A call that
// only reads waits for it and is sent again; one that writes fails, and is not sent twice by itself.
func several(servers []string) []grpc.DialOption {
	known := manual.NewBuilderWithScheme("servers")
	state := resolver.State{}
	for _, address := range servers {
		state.Endpoints = append(state.Endpoints, resolver.Endpoint{Addresses: []resolver.Address{{Addr: address}}})
	}
	known.InitialState(state)
	host, _, _ := net.SplitHostPort(servers[0])
	return []grpc.DialOption{grpc.WithResolvers(known), grpc.WithAuthority(host), grpc.WithDefaultServiceConfig(readsAgain())}
}

// reading are the words that the names of methods begin with which write nothing. Reading emergency contacts and incidents leaves an
// entry in the audit log each time, so they are not among them.
var reading = []string{"Get", "List", "WhoAmI", "Plan", "Check", "Compare", "Preview", "Assess", "Explain"}

// readsAgain is the service config (https://github.com/grpc/grpc/blob/master/doc/service_config.md) by which calls that only read
// are sent again while no server can be reached, four times at the most.
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
		"retryPolicy": map[string]any{"maxAttempts": 4, "initialBackoff": "0.05s", "maxBackoff": "0.5s", "backoffMultiplier": 2, "retryableStatusCodes": []string{"UNAVAILABLE"}},
	}}}) // nothing of it cannot be marshalled
	return string(config)
}
