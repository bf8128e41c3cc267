package policy

import (
	"maps"
	"strings"
	"testing"

	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	policyfile "gritward/policy"
)

// TestUsualTables: each row is about a number or a span of time of the protocol, has words for each of its bounds, and
// advises something that reads without a doubt.
func TestUsualTables(t *testing.T) {
	tables := usualLimits()
	maps.Copy(tables, usualSettings())
	for name, u := range tables {
		found, err := protoregistry.GlobalFiles.FindDescriptorByName(name)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		field := found.(protoreflect.FieldDescriptor)
		span := field.Message() != nil && field.Message().FullName() == "google.protobuf.Duration"
		if !span && field.Kind() != protoreflect.DoubleKind && field.Kind() != protoreflect.Int32Kind {
			t.Errorf("%s is a %s", name, field.Kind())
		}
		if (u.below == nil) != (u.low == "") || (u.above == nil) != (u.high == "") || u.below == nil && u.above == nil {
			t.Errorf("%s: a bound without words, or words without a bound: %+v", name, u)
		}
		key := keyOf(field) + ":"
		_, advice, found2 := strings.Cut(u.write, "write ")
		if !found2 || !strings.HasPrefix(advice, key) {
			t.Errorf("%s: advises %q, not %s", name, u.write, key)
		}
	}
}

// TestAdviceIsNotDoubted: what a warning says to write is within the same bounds.
func TestAdviceIsNotDoubted(t *testing.T) {
	text := string(policyfile.Winter)
	for name, u := range usualLimits() {
		if !strings.HasPrefix(string(name), "gritward.v1.") {
			t.Fatal(name)
		}
		check := strings.ToLower(strings.TrimSuffix(strings.Split(string(name), ".")[2], "Need"))
		_, advice, _ := strings.Cut(u.write, "write ")
		need, _, _ := strings.Cut(advice, ",")
		if check == "lights" && !strings.HasPrefix(need, "front:") && !strings.HasPrefix(need, "rear:") {
			need += ", front: 1, rear: 1"
		}
		head, _, _ := strings.Cut(text, "\nrules:\n")
		file := head + "\nrules:\n  - {id: lamps, check: lights, when: [dark, poor-visibility], need: {front: 1, rear: 1}, otherwise: hold}\n" +
			"  - {id: own, check: " + check + ", when: season, need: {" + need + "}, otherwise: advise}\n"
		p, problems := Read("p.yaml", []byte(file))
		if p == nil {
			t.Errorf("%s: %v", name, problems)
		}
		for _, problem := range problems {
			if strings.Contains(problem.Path, ".need.") {
				t.Errorf("%s: %s is doubted: %s", name, need, problem.Message)
			}
		}
	}
}
