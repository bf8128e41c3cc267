package strictyaml

import (
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	pb "gritward/proto/gritward/v1"
)

// MaxBytes is the largest file that is read: 1 MiB. A policy of 10,000 rules fits.
const MaxBytes = 1 << 20

// MaxProblems is the largest number of problems told of one file; one more then says how many were left out.
const MaxProblems = 100

// Options say what the descriptor alone cannot.
type Options struct {
	// What names the kind of file in messages: "policy", "bike".
	What string
	// Choices gives, by the full name of a oneof, the key that stands for all of its fields.
	Choices map[protoreflect.FullName]Choice
	// Words gives, by the full name of a field, the words of its enum to propose, where that is not all of them.
	Words map[protoreflect.FullName][]string
	// Hints gives, by the full name of a field, how to write it where the type does not say so.
	Hints map[protoreflect.FullName]string
	// Required names numbers that must be written though their range has zero in it, by the full name of the field.
	Required map[protoreflect.FullName]bool
}

// Choice is a oneof that a file writes as one key, named like the oneof. A sibling key says which field is meant.
type Choice struct {
	// By is the sibling key.
	By string
	// Fields gives the field of the oneof for each value of the sibling.
	Fields map[string]protoreflect.Name
}

// Decode reads data into the message, which should be empty, and tells where each key stands. The problems are sorted
// by position; all are errors. After an error the message holds what could be read and must not be used for more than
// finding further problems. file is the name that problems carry.
func Decode(file string, data []byte, into proto.Message, opts Options) (*Positions, []*pb.Problem) {
	positions := newPositions(file, data)
	r := &reader{opts: opts, positions: positions, report: newReport(positions), tables: map[tableKey]*table{}}
	if !r.text(data) {
		return positions, r.report.sorted()
	}
	root := r.parse(data)
	if root == nil {
		return positions, r.report.sorted()
	}
	r.shape(root)
	message := into.ProtoReflect()
	r.message(message, root, "")
	if len(r.report.problems) <= MaxProblems {
		r.limits(message)
	}
	return positions, r.report.sorted()
}

// reader is the state of one Decode.
type reader struct {
	opts      Options
	positions *Positions
	report    *report
	tables    map[tableKey]*table
}
