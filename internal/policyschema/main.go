// Command policyschema writes the JSON Schema of policy files, by which editors complete and check them. The keys, units,
// words and ranges come from the protocol's descriptors, as the reader's do; the descriptions are the comments of the
// .proto files.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"strings"

	"github.com/bufbuild/protocompile"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	"gritward/internal/policy"
)

func main() {
	root := flag.String("root", ".", "folder that import paths of .proto files start from")
	out := flag.String("out", "", "file to write")
	flag.Parse()
	if err := run(*root, *out); err != nil {
		fmt.Fprintln(os.Stderr, "policyschema:", err)
		os.Exit(1)
	}
}

func run(root, out string) error {
	schema, err := build(root)
	if err != nil {
		return err
	}
	return os.WriteFile(out, schema, 0o644)
}

// build makes the schema with the comments of the .proto files under root.
func build(root string) ([]byte, error) {
	comments, err := commentsOf(root, "gritward/v1/policy.proto", "gritward/v1/bike.proto")
	if err != nil {
		return nil, err
	}
	return policy.Schema(func(d protoreflect.Descriptor) string { return comments[d.FullName()] })
}

// commentsOf gives the comment before each message, field and value of an enum in the files.
func commentsOf(root string, names ...string) (map[protoreflect.FullName]string, error) {
	linked := protocompile.ResolverFunc(func(path string) (protocompile.SearchResult, error) {
		desc, err := protoregistry.GlobalFiles.FindFileByPath(path)
		return protocompile.SearchResult{Desc: desc}, err
	})
	compiler := protocompile.Compiler{
		Resolver:       protocompile.CompositeResolver{&protocompile.SourceResolver{ImportPaths: []string{root}}, linked},
		SourceInfoMode: protocompile.SourceInfoStandard,
	}
	files, err := compiler.Compile(context.Background(), names...)
	if err != nil {
		return nil, err
	}
	comments := map[protoreflect.FullName]string{}
	for _, file := range files {
		note := func(d protoreflect.Descriptor) {
			comments[d.FullName()] = oneLine(file.SourceLocations().ByDescriptor(d).LeadingComments)
		}
		enums(file.Enums(), note)
		messages(file.Messages(), note)
	}
	return comments, nil
}

// messages visits messages with all that is in them.
func messages(list protoreflect.MessageDescriptors, visit func(protoreflect.Descriptor)) {
	for i := range list.Len() {
		message := list.Get(i)
		visit(message)
		for j := range message.Fields().Len() {
			visit(message.Fields().Get(j))
		}
		for j := range message.Oneofs().Len() {
			visit(message.Oneofs().Get(j))
		}
		enums(message.Enums(), visit)
		messages(message.Messages(), visit)
	}
}

// enums visits the values of enums.
func enums(list protoreflect.EnumDescriptors, visit func(protoreflect.Descriptor)) {
	for i := range list.Len() {
		for j := range list.Get(i).Values().Len() {
			visit(list.Get(i).Values().Get(j))
		}
	}
}

// oneLine joins the lines of a comment.
func oneLine(comment string) string { return strings.Join(strings.Fields(comment), " ") }
