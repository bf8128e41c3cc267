package policy

import (
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// Differences tells what differs between two policies, rule by rule, in the order of the later one; rules that are gone
// come last. Rules are told apart by their ids, so that a rule with a new id is one gone and one that is new.
//
// A rule that is new or gone is written whole, on one line, in after or before. Of a rule or a setting that reads
// otherwise there is one difference for each value, with its path; a value that is not written is empty. As few rules as
// possible are said to be moved: their before and after say which rule they stand after in each file, "first" where
// none.
func Differences(before, after *Policy) []*pb.PolicyDifference {
	differences := changes("", settingsOf(before.message), settingsOf(after.message))
	was, is := rulesByID(before.message), rulesByID(after.message)
	moved := movedRules(before.message, was, after.message)
	for i, rule := range after.message.GetRules() {
		id := rule.GetId()
		old, common := was[id]
		if !common {
			differences = append(differences, &pb.PolicyDifference{Kind: pb.PolicyDifference_ADDED, Rule: id, After: inline(rule)})
			continue
		}
		if moved[id] {
			differences = append(differences, &pb.PolicyDifference{
				Kind: pb.PolicyDifference_MOVED, Rule: id, Before: afterWhich(before.message, old), After: afterWhich(after.message, i),
			})
		}
		differences = append(differences, changes(id, before.message.GetRules()[old], rule)...)
	}
	for _, rule := range before.message.GetRules() {
		if _, common := is[rule.GetId()]; !common {
			differences = append(differences, &pb.PolicyDifference{Kind: pb.PolicyDifference_REMOVED, Rule: rule.GetId(), Before: inline(rule)})
		}
	}
	return differences
}

// settingsOf is a policy without its rules. It shares what it holds.
func settingsOf(policy *pb.Policy) *pb.Policy {
	settings := (&pb.Policy{}).ProtoReflect()
	policy.ProtoReflect().Range(func(field protoreflect.FieldDescriptor, value protoreflect.Value) bool {
		if field.Name() != "rules" {
			settings.Set(field, value)
		}
		return true
	})
	return settings.Interface().(*pb.Policy)
}

// rulesByID gives the place of each rule.
func rulesByID(policy *pb.Policy) map[string]int {
	places := make(map[string]int, len(policy.GetRules()))
	for i, rule := range policy.GetRules() {
		places[rule.GetId()] = i
	}
	return places
}

// inline and leaves write what a policy file said; a message that was read from one can be written, without an error.
func inline(rule *pb.Rule) string {
	text, _ := strictyaml.Inline(rule, options())
	return text
}

func leaves(message proto.Message) []strictyaml.Leaf {
	list, _ := strictyaml.Leaves(message, options())
	return list
}

// changes tells the values that differ between two states of one rule, or of the settings.
func changes(rule string, before, after proto.Message) []*pb.PolicyDifference {
	if proto.Equal(before, after) {
		return nil
	}
	was, is := leaves(before), leaves(after)
	old := map[string]string{}
	for _, leaf := range was {
		old[leaf.Path] = leaf.Text
	}
	var differences []*pb.PolicyDifference
	tell := func(path, before, after string) {
		differences = append(differences, &pb.PolicyDifference{Kind: pb.PolicyDifference_CHANGED, Rule: rule, Path: path, Before: before, After: after})
	}
	kept := map[string]bool{}
	for _, leaf := range is {
		kept[leaf.Path] = true
		if old[leaf.Path] != leaf.Text {
			tell(leaf.Path, old[leaf.Path], leaf.Text)
		}
	}
	for _, leaf := range was {
		if !kept[leaf.Path] {
			tell(leaf.Path, leaf.Text, "")
		}
	}
	return differences
}
