package policy

import (
	"fmt"

	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/readiness"
	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// options say how a policy file writes what the descriptor does not: the limits of a rule stand under "need", and its
// "check" says which they are.
func options() strictyaml.Options {
	return strictyaml.Options{
		What:     "policy",
		Choices:  map[protoreflect.FullName]strictyaml.Choice{"gritward.v1.Rule.need": {By: "check", Fields: needFields()}},
		Words:    map[protoreflect.FullName][]string{"gritward.v1.Rule.check": knownChecks()},
		Hints:    hints(),
		Required: map[protoreflect.FullName]bool{"gritward.v1.ColdPoint.at_c": true},
	}
}

// hints say how to write what the type alone does not tell.
func hints() map[protoreflect.FullName]string {
	hints := map[protoreflect.FullName]string{
		"gritward.v1.Rule.id":          "use lower-case letters, digits and hyphens, a letter first, up to 40: rear-light",
		"gritward.v1.Season.from":      dayHint,
		"gritward.v1.Season.to":        dayHint,
		"gritward.v1.GroupLimits.size": "write for example  size: {min: 4, max: 12}",
	}
	for check, example := range needExamples() {
		hints[protoreflect.FullName("gritward.v1.Rule."+word(check))] = "write for example  need: " + example
	}
	return hints
}

// knownChecks are the words of the checks that rules may use.
func knownChecks() []string {
	var known []string
	for _, check := range readiness.Known() {
		known = append(known, word(check))
	}
	return known
}

// needFields gives the field of a rule's limits for each check that has limits: the field is named like the check.
func needFields() map[string]protoreflect.Name {
	fields := map[string]protoreflect.Name{}
	need := (&pb.Rule{}).ProtoReflect().Descriptor().Oneofs().ByName("need").Fields()
	for i := range need.Len() {
		fields[string(need.Get(i).Name())] = need.Get(i).Name()
	}
	return fields
}

func rulePath(i int) string { return fmt.Sprintf("rules[%d]", i) }
