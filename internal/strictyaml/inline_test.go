package strictyaml_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/reflect/protoreflect"
	"pgregory.net/rapid"

	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// TestLeaves: each value once, with its path and in the file's words.
func TestLeaves(t *testing.T) {
	leaves, err := strictyaml.Leaves(goodBike(t, "title: a\nguards: {front: {kind: clip-on, clearance: 6 mm}}\nlights:\n- {end: rear, runtime: 1h30m}\n- {end: front}\nodometer: 12345.6km\n"), bikeOptions())
	want := []strictyaml.Leaf{
		{Path: "title", Text: "a"}, {Path: "guards.front.kind", Text: "clip-on"}, {Path: "guards.front.clearance", Text: "6mm"},
		{Path: "lights", Text: "[{end: rear, runtime: 90min}, {end: front}]"}, {Path: "odometer", Text: "12345.6km"},
	}
	if diff := cmp.Diff(want, leaves); diff != "" || err != nil {
		t.Errorf("%v (-want +got):\n%s", err, diff)
	}
}

// TestInline: a message on one line is read back as it was, whatever its text.
func TestInline(t *testing.T) {
	for _, text := range []string{"a", "true", "2026", "a: b", "#1", `"`, `\`, "{a}", "- a", "a,b", " a", "a ", "two\nlines", "~", "自転車", "it's", "🚲", "%a", "5mm", "-8C"} {
		checkInline(t, text)
	}
	rapid.Check(t, func(rt *rapid.T) {
		text := rapid.StringOfN(rapid.RuneFrom([]rune("ab :#-'\"\\{}[],&*!|>%@`~?\n0é自")), 1, 12, -1).Draw(rt, "text")
		checkInline(rt, text)
	})
}

func checkInline(t rapid.TB, text string) {
	want := &pb.Rule{
		Id: "a", Check: pb.Check_LIGHTS, When: []pb.Circumstance{pb.Circumstance_DARK, pb.Circumstance_WET}, Otherwise: pb.Rule_HOLD, Because: text,
		Need: &pb.Rule_Lights{Lights: &pb.LightsNeed{Rear: 1, RearLumens: new(15.5)}},
	}
	line, err := strictyaml.Inline(want, ruleOptions())
	if err != nil || strings.Contains(line, "\n") {
		t.Fatalf("%q, %v", line, err)
	}
	back, _, problems := rule(line + "\n")
	if len(problems) > 0 || !equal(want, back) {
		t.Fatalf("%s\n%v\n%s", line, back, strictyaml.Format(problems))
	}
}

// TestInlineFaults: what no file can hold is an error, as with Encode.
func TestInlineFaults(t *testing.T) {
	if line, err := strictyaml.Inline(&pb.Rule{Check: 99}, ruleOptions()); err == nil {
		t.Errorf("written as %s", line)
	}
	if leaves, err := strictyaml.Leaves(&pb.Rule{Check: 99}, ruleOptions()); err == nil {
		t.Errorf("written as %v", leaves)
	}
}

// TestRequired: a number that must be written is missed even where zero is in its range.
func TestRequired(t *testing.T) {
	opts := strictyaml.Options{What: "light", Required: map[protoreflect.FullName]bool{"gritward.v1.ColdPoint.at_c": true}}
	for text, want := range map[string]string{
		"{reserve: 30m, cold: [{left: 1}]}":           "at is missing",
		"{reserve: 30m, cold: [{at: 0C, left: 1}]}":   "",
		"{reserve: 30m, cold: [{att: 20C, left: 1}]}": "unknown key \"att\"", // and not that at is missing too
		"{reserve: 30m, cold: [{at: 20F, left: 1}]}":  "\"20F\" is not in C",
	} {
		_, problems := strictyaml.Decode("p.yaml", []byte(text), &pb.LampReckoning{}, opts)
		got := ""
		for _, problem := range problems {
			got += problem.GetMessage()
		}
		if got != want {
			t.Errorf("%s: %q, want %q", text, got, want)
		}
	}
}

// TestSortKeepsErrors: where there are too many problems, warnings give way to errors.
func TestSortKeepsErrors(t *testing.T) {
	many := func(errors ...int) []*pb.Problem {
		var problems []*pb.Problem
		for i := range 300 {
			problems = append(problems, &pb.Problem{Line: int32(i + 1), Column: 1, Severity: pb.Problem_WARNING})
			if slices.Contains(errors, i+1) {
				problems[i].Severity = pb.Problem_ERROR
			}
		}
		return problems
	}
	if got := strictyaml.Sort(many(251)); len(got) != 1 || got[0].GetLine() != 251 {
		t.Errorf("%d problems: %v", len(got), got)
	}
	if got := strictyaml.Sort(many()); len(got) != strictyaml.MaxProblems+1 || got[strictyaml.MaxProblems].GetMessage() != "and 200 more problems from this line on" {
		t.Errorf("%d problems", len(got))
	}
}
