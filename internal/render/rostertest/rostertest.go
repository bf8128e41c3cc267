// Package rostertest gives rosters to tests: those of testdata/roster, and random ones with hostile text, times and numbers.
package rostertest

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	pb "gritward/proto/gritward/v1"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/reflect/protoreflect"
	"pgregory.net/rapid"
)

// Dir is testdata/roster as seen from a package of internal.
const Dir = "../../testdata/roster"

// Names are the rosters in Dir.
func Names() []string { return []string{"winter-run", "early-bread", "first-light", "night-lake"} }

// Load reads a roster of Dir.
func Load(t testing.TB, name string) *pb.Roster {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(Dir, name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	var r pb.Roster
	if err := protojson.Unmarshal(data, &r); err != nil {
		t.Fatal(err)
	}
	return &r
}

// Hostile are texts that must do no harm.
func Hostile() []string {
	return []string{
		"", "plain", `<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, "]]></desc></svg><b>", "line\r\nSet: two\tthree",
		"right \u202Eto left\u202C", "\u2066isolate", "bell\a\x1b[31mred\x1b[0m", "bad \xff\xfe utf", "\uFEFFmark\u200B", "no\uFFFEchar\uFFFF",
		"夜の湖", "🚲👩‍👩‍👧🏴󠁧󠁢󠁳󠁣󠁴󠁿", "שלום", "e" + strings.Repeat("\u0301", 50), strings.Repeat("long", 2500), "{{.}}", "&amp;<", "</style>", "%s%d%!",
	}
}

// Riders are the names of everybody in a roster, with a place or without.
func Riders(r *pb.Roster) []string {
	var out []string
	for _, g := range r.GetPlacement().GetGroups() {
		for _, row := range g.GetRows() {
			for _, rider := range []*pb.Rider{row.GetLeft(), row.GetRight()} {
				if rider != nil {
					out = append(out, rider.GetDisplayName())
				}
			}
		}
	}
	for _, u := range r.GetPlacement().GetUnplaced() {
		out = append(out, u.GetDisplayName())
	}
	return out
}

// Random draws a roster in which any field may be missing or hold anything its type can.
func Random(t *rapid.T) *pb.Roster {
	var r pb.Roster
	fill(t, r.ProtoReflect(), 0)
	return &r
}

func fill(t *rapid.T, m protoreflect.Message, depth int) {
	fields := m.Descriptor().Fields()
	if m.Descriptor().FullName() == "google.protobuf.Timestamp" {
		// Mostly within two days, so that groups have times; now and then anything.
		second := rapid.Int64Range(1449900000, 1450072800).Draw(t, "second")
		if rapid.IntRange(0, 19).Draw(t, "odd") == 0 {
			second = rapid.Int64().Draw(t, "any second")
		}
		m.Set(fields.ByName("seconds"), protoreflect.ValueOfInt64(second))
		return
	}
	for i := range fields.Len() {
		f := fields.Get(i)
		if rapid.IntRange(0, 9).Draw(t, "missing") < 2 || depth > 6 {
			continue
		}
		switch {
		case f.IsList():
			list := m.Mutable(f).List()
			for range rapid.IntRange(0, 2).Draw(t, "length") {
				list.Append(value(t, list.NewElement(), f, depth))
			}
		case f.IsMap():
		default:
			m.Set(f, value(t, m.NewField(f), f, depth))
		}
	}
}

func value(t *rapid.T, empty protoreflect.Value, f protoreflect.FieldDescriptor, depth int) protoreflect.Value {
	switch f.Kind() {
	case protoreflect.MessageKind:
		fill(t, empty.Message(), depth+1)
		return empty
	case protoreflect.StringKind:
		return protoreflect.ValueOfString(rapid.SampledFrom(Hostile()).Draw(t, "text"))
	case protoreflect.BoolKind:
		return protoreflect.ValueOfBool(rapid.Bool().Draw(t, "bool"))
	case protoreflect.DoubleKind:
		odd := []float64{0, -1, 12.5, 61.2, 1e9, -1e300, math.NaN(), math.Inf(1), math.Inf(-1)}
		return protoreflect.ValueOfFloat64(rapid.SampledFrom(odd).Draw(t, "number"))
	case protoreflect.Int32Kind:
		return protoreflect.ValueOfInt32(rapid.Int32().Draw(t, "int"))
	case protoreflect.EnumKind:
		return protoreflect.ValueOfEnum(protoreflect.EnumNumber(rapid.Int32Range(-1, 9).Draw(t, "enum")))
	}
	return empty
}

// Members are the resource names of those with a place in a roster.
func Members(r *pb.Roster) []string {
	var out []string
	for _, g := range r.GetPlacement().GetGroups() {
		for _, row := range g.GetRows() {
			for _, rider := range []*pb.Rider{row.GetLeft(), row.GetRight()} {
				if rider != nil {
					out = append(out, rider.GetMember())
				}
			}
		}
	}
	return out
}
