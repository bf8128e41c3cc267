package strictyaml_test

import (
	"strings"
	"testing"

	"buf.build/go/protovalidate"

	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// FuzzDecode: no bike file crashes the reader; one without problems keeps every limit, and can be written and read back.
func FuzzDecode(f *testing.F) {
	for _, seed := range []string{
		bikeFile, "", "~", "[]", "{}", "title: a", "title: a\n---\n", "a: &a [*a]", "? a", "- - - a", "title: \"\\e\"",
		"lights: [{end: rear, runtime: 1h30m}]", strings.Repeat("[", 100), "\ufeff%YAML 1.1\n---\n", "title: \xff",
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		facts := &pb.BikeFacts{}
		positions, problems := strictyaml.Decode("bike.yaml", data, facts, bikeOptions())
		if positions == nil {
			t.Fatal("no positions")
		}
		if len(problems) > 0 {
			checkProblems(t, problems)
			return
		}
		if err := protovalidate.Validate(facts); err != nil {
			t.Fatalf("accepted beyond limits: %v", err)
		}
		text, err := strictyaml.Encode(facts, bikeOptions())
		if err != nil {
			t.Fatal(err)
		}
		back := &pb.BikeFacts{}
		if _, problems := strictyaml.Decode("bike.yaml", text, back, bikeOptions()); len(problems) > 0 || !equal(facts, back) {
			t.Fatalf("%q\nwritten as\n%s\n%s", data, text, strictyaml.Format(problems))
		}
	})
}

func BenchmarkDecodeBike(b *testing.B) {
	data := []byte(bikeFile)
	for b.Loop() {
		strictyaml.Decode("bike.yaml", data, &pb.BikeFacts{}, bikeOptions())
	}
}
