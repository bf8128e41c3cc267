package server

import (
	"fmt"
	"strings"
	"sync"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	pb "gritward/proto/gritward/v1"
)

// method is what the protocol says of one method.
type method struct {
	access  *pb.Access // who may call it
	largest int        // request, bytes: maxPlain, and what the protocol allows the files in it
}

// knownMethods are the methods that were called, by their full name "/service/method". Each is read from the protocol when it
// is called first: all of them together take a good part of the time in which the server starts.
var knownMethods sync.Map

// methodOf finds a method by its full name; not known are those that this protocol does not have.
func methodOf(name string) (m method, known bool) {
	if m, known := knownMethods.Load(name); known {
		return m.(method), true
	}
	within, last, _ := strings.Cut(strings.TrimPrefix(name, "/"), "/")
	found, err := protoregistry.GlobalFiles.FindDescriptorByName(protoreflect.FullName(within + "." + last))
	descriptor, is := found.(protoreflect.MethodDescriptor)
	if err != nil || !is || descriptor.ParentFile().Package() != pb.File_gritward_v1_club_service_proto.Package() {
		return method{}, false
	}
	m.access, _ = proto.GetExtension(descriptor.Options(), pb.E_Access).(*pb.Access)
	m.largest = maxPlain + filesIn(descriptor.Input())
	knownMethods.Store(name, m)
	return m, true
}

// eachMethod visits every method of the protocol, with its full name "/service/method".
func eachMethod(visit func(name string, method protoreflect.MethodDescriptor)) {
	protoregistry.GlobalFiles.RangeFilesByPackage(pb.File_gritward_v1_club_service_proto.Package(), func(file protoreflect.FileDescriptor) bool {
		for i := range file.Services().Len() {
			service := file.Services().Get(i)
			for j := range service.Methods().Len() {
				method := service.Methods().Get(j)
				visit(fmt.Sprintf("/%s/%s", service.FullName(), method.Name()), method)
			}
		}
		return true
	})
}

// AccessTable says for every method of the protocol, by its full name "/service/method", who may call it.
func AccessTable() map[string]*pb.Access {
	table := map[string]*pb.Access{}
	eachMethod(func(name string, _ protoreflect.MethodDescriptor) {
		called, _ := methodOf(name)
		table[name] = called.access
	})
	return table
}
