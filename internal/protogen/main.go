// Command protogen compiles the .proto files of this project and writes the Go code beside them. It needs no protoc:
// the compiler is a library, the plugins are Go tools of this module, and what the files import comes from the
// descriptors linked into this program.
//
// With --image FILE it writes the compiled descriptors there instead, for a linter that reads them.
package main

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"

	_ "buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate" // buf/validate/validate.proto
	"github.com/bufbuild/protocompile"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protodesc"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/descriptorpb"
	"google.golang.org/protobuf/types/pluginpb"
)

func main() {
	root := flag.String("root", ".", "folder that import paths start from")
	image := flag.String("image", "", "write the descriptors to this file and generate nothing")
	flag.Parse()
	if err := run(*root, *image); err != nil {
		fmt.Fprintln(os.Stderr, "protogen:", err)
		os.Exit(1)
	}
}

func run(root, image string) error {
	names, err := sources(root)
	if err != nil {
		return err
	}
	set, err := compile(root, names)
	if err != nil {
		return err
	}
	if image != "" {
		data, err := proto.MarshalOptions{Deterministic: true}.Marshal(set)
		if err != nil {
			return err
		}
		return os.WriteFile(image, data, 0o644)
	}
	for _, plugin := range []string{"protoc-gen-go", "protoc-gen-go-grpc"} {
		if err := generate(root, plugin, names, set); err != nil {
			return fmt.Errorf("%s: %w", plugin, err)
		}
	}
	return nil
}

// sources lists the .proto files under root, sorted, as import paths.
func sources(root string) ([]string, error) {
	var names []string
	err := filepath.WalkDir(root, func(path string, entry os.DirEntry, err error) error {
		if err != nil || entry.IsDir() || filepath.Ext(path) != ".proto" {
			return err
		}
		rel, err := filepath.Rel(root, path)
		names = append(names, filepath.ToSlash(rel))
		return err
	})
	sort.Strings(names)
	return names, err
}

// compile parses and links the files and puts them, after all that they import, into one set.
func compile(root string, names []string) (*descriptorpb.FileDescriptorSet, error) {
	linked := protocompile.ResolverFunc(func(path string) (protocompile.SearchResult, error) {
		desc, err := protoregistry.GlobalFiles.FindFileByPath(path)
		return protocompile.SearchResult{Desc: desc}, err
	})
	compiler := protocompile.Compiler{
		Resolver: protocompile.CompositeResolver{
			&protocompile.SourceResolver{ImportPaths: []string{root}},
			linked,
		},
		SourceInfoMode: protocompile.SourceInfoStandard,
	}
	files, err := compiler.Compile(context.Background(), names...)
	if err != nil {
		return nil, err
	}
	set := &descriptorpb.FileDescriptorSet{}
	seen := map[string]bool{}
	var add func(protoreflect.FileDescriptor)
	add = func(file protoreflect.FileDescriptor) {
		if seen[file.Path()] {
			return
		}
		seen[file.Path()] = true
		for i := range file.Imports().Len() {
			add(file.Imports().Get(i).FileDescriptor)
		}
		set.File = append(set.File, protodesc.ToFileDescriptorProto(file))
	}
	for _, file := range files {
		add(file)
	}
	return set, nil
}

// generate runs one plugin over the files and writes what it answers.
func generate(root, plugin string, names []string, set *descriptorpb.FileDescriptorSet) error {
	request, err := proto.Marshal(&pluginpb.CodeGeneratorRequest{
		FileToGenerate: names,
		Parameter:      proto.String("paths=source_relative"),
		ProtoFile:      set.File,
	})
	if err != nil {
		return err
	}
	command := exec.Command("go", "tool", plugin)
	command.Stdin, command.Stderr = bytes.NewReader(request), os.Stderr
	output, err := command.Output()
	if err != nil {
		return err
	}
	var response pluginpb.CodeGeneratorResponse
	if err := proto.Unmarshal(output, &response); err != nil {
		return err
	}
	if response.Error != nil {
		return fmt.Errorf("%s", strings.TrimSpace(response.GetError()))
	}
	for _, file := range response.File {
		if err := os.WriteFile(filepath.Join(root, file.GetName()), []byte(file.GetContent()), 0o644); err != nil {
			return err
		}
	}
	return nil
}
