package expression

import (
	"cmp"
	"slices"
	"strings"

	"cel.dev/cel-go/common/ast"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	pb "gritward/proto/gritward/v1"
)

// inFile notes what a bike file calls a field: "tyres.front.width" for bike.tyres.front.width_mm. Fields of the group
// stand in no file and keep their names.
func (l *looker) inFile(e ast.Expr) {
	path, operand := pathText(e), pathText(e.AsSelect().Operand())
	before, known := l.file[operand]
	if !known {
		before = operand
	}
	name := e.AsSelect().FieldName()
	of := l.tree.GetType(e.AsSelect().Operand().ID()).TypeName()
	kind, err := protoregistry.GlobalTypes.FindMessageByName(pb.File_gritward_v1_bike_proto.Package().Append(protoreflect.Name(of)))
	if err == nil && rootName(operand) != "group" {
		if field := kind.Descriptor().Fields().ByName(protoreflect.Name(name)); field != nil {
			name = fileKey(field)
		}
	}
	l.file[path] = strings.TrimPrefix(before+"."+name, ".")
}

func rootName(path string) string {
	root, _, _ := strings.Cut(path, ".")
	return root
}

// fileKey is the key of a field in a file.
func fileKey(field protoreflect.FieldDescriptor) string {
	if key := fileOption(field).GetKey(); key != "" {
		return key
	}
	return string(field.Name())
}

// fileOption is how a field stands in a file; nil where nothing is said of it.
func fileOption(field protoreflect.FieldDescriptor) *pb.FileField {
	option, _ := proto.GetExtension(field.Options(), pb.E_File).(*pb.FileField)
	return option
}

// InFile is the expression with its facts called as in a bike file, on one line: "odometer < 20000".
func (p *Program) InFile() string { return p.text }

// textInFile writes the text anew. The longest path goes first, since one may begin with another.
func textInFile(text string, file map[string]string) string {
	var paths, pairs []string
	for path := range file {
		if path != "bike" {
			paths = append(paths, path)
		}
	}
	slices.SortFunc(paths, func(a, b string) int { return cmp.Or(len(b)-len(a), strings.Compare(a, b)) })
	for _, path := range paths {
		pairs = append(pairs, path, file[path])
	}
	return strings.Join(strings.Fields(strings.NewReplacer(pairs...).Replace(text)), " ")
}
