package strictyaml_test

import (
	"strings"
	"testing"

	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// ruleOptions are those of a message in which one key stands for several fields: need, chosen by check.
func ruleOptions() strictyaml.Options {
	return strictyaml.Options{What: "rule", Choices: map[protoreflect.FullName]strictyaml.Choice{
		"gritward.v1.Rule.need": {By: "check", Fields: map[string]protoreflect.Name{
			"guards": "guards", "lights": "lights", "declaration": "declaration",
		}},
	}}
}

func rule(text string) (*pb.Rule, *strictyaml.Positions, []*pb.Problem) {
	r := &pb.Rule{}
	positions, problems := strictyaml.Decode("rule.yaml", []byte(text), r, ruleOptions())
	return r, positions, problems
}

// TestChoice: the sibling decides, whether it stands before the key or after it, and writing gives the same back.
func TestChoice(t *testing.T) {
	for name, text := range map[string]string{
		"before": "{id: a, check: lights, when: dark, need: {rear: 2, rear_lumens: 15lm}, otherwise: hold}",
		"after":  "{id: a, need: {rear: 2, rear_lumens: 15 lm}, when: [dark], otherwise: hold, check: lights}",
	} {
		t.Run(name, func(t *testing.T) {
			r, positions, problems := rule(text)
			if len(problems) > 0 || r.GetLights().GetRear() != 2 || r.GetLights().GetRearLumens() != 15 || !positions.Has("need.rear_lumens") {
				t.Fatalf("%v\n%s", r, strictyaml.Format(problems))
			}
			out, err := strictyaml.Encode(r, ruleOptions())
			if err != nil {
				t.Fatal(err)
			}
			if back, _, problems := rule(string(out)); len(problems) > 0 || !equal(r, back) {
				t.Errorf("written as\n%s\n%s", out, strictyaml.Format(problems))
			}
		})
	}
}

func TestChoiceFaults(t *testing.T) {
	for name, c := range map[string]struct {
		text, path, message, hint string
		column                    int32
	}{
		"field by its own name": {"{id: a, check: lights, when: dark, lights: {rear: 1}, otherwise: hold}", "lights", "unknown key", "known here: id, check", 36},
		"key of another":        {"{id: a, check: lights, when: dark, need: {rear: 1, rear_flap: true}, otherwise: hold}", "need.rear_flap", "unknown key", "rear_flap belongs to check: guards", 52},
		"key of none":           {"{id: a, check: lights, when: dark, need: {rear: 1, side: 1}, otherwise: hold}", "need.side", "unknown key", "known here: front", 52},
		"unknown sibling":       {"{id: a, check: light, when: dark, need: {x: 1}, otherwise: hold}", "check", "is not a value of check", "did you mean lights?", 16},
		"no sibling":            {"{id: a, when: dark, need: {x: 1}, otherwise: hold}", "check", "check is missing", "write one of", 1},
		"limit inside":          {"{id: a, check: lights, when: dark, need: {rear: 9}, otherwise: hold}", "need.rear", "rear must be from 0 to 4", "whole number", 49},
		"rule of the message":   {"{id: a, check: lights, when: dark, need: {}, otherwise: hold}", "need", "asks for nothing", "", 42},
		"wrong kind":            {"{id: a, check: lights, when: dark, need: 1, otherwise: hold}", "need", "need takes keys of its own, not", "front, rear", 42},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, problems := rule(c.text)
			wantOne(t, problems, 1, c.column, c.path, c.message)
			if !strings.Contains(problems[0].GetHint(), c.hint) {
				t.Errorf("hint %q, want %q", problems[0].GetHint(), c.hint)
			}
		})
	}
}

// TestWithoutChoice: where no key stands for a oneof its fields are keys, of which a file has one.
func TestWithoutChoice(t *testing.T) {
	r := &pb.Rule{}
	text := "{id: a, check: lights, when: dark, lights: {rear: 1}, guards: {rear: full}, otherwise: hold}"
	_, problems := strictyaml.Decode("rule.yaml", []byte(text), r, strictyaml.Options{What: "rule"})
	wantOne(t, problems, 1, 55, "guards", "cannot stand beside lights")
}

func TestLists(t *testing.T) {
	for text, want := range map[string]string{
		"lights: {end: rear}":            "is a list, not a group of keys",
		"lights: rear":                   "is a list, not \"rear\"",
		"lights: [rear]":                 "an entry of lights takes keys of its own",
		"lights: [~]":                    "an entry of lights has nothing below it",
		"lights:":                        "has nothing below it",
		"lights: [{end: [rear]}]":        "end takes one value, not a list",
		"lights: [{}]":                   "end is missing",
		"guards: [{front: {}}]":          "takes keys of its own, not a list",
		"? {a: b}\n: c":                  "a key must be a single word",
		"title: b\n'<<': {}":             "unknown key",
		"lights: [{end: rear}, [&a ~]]":  "takes keys of its own",
		"lights: [{end: rear}, *nobody]": "an alias",
	} {
		_, _, problems := bike("note: n\n" + text + "\n")
		found := false
		for _, p := range problems {
			found = found || strings.Contains(p.GetMessage(), want)
		}
		if !found {
			t.Errorf("%s: nobody said %q:\n%s", text, want, strictyaml.Format(problems))
		}
	}
}
