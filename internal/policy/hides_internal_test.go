package policy

import (
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

const day = 24 * time.Hour

// start is when the ride of these tests starts.
func start() time.Time { return time.Date(2026, time.December, 13, 9, 0, 0, 0, time.UTC) }

// fill sets fields of a message to values around which limits and bikes differ.
func fill(t *rapid.T, m protoreflect.Message) {
	for i := range m.Descriptor().Fields().Len() {
		field := m.Descriptor().Fields().Get(i)
		switch label := string(field.FullName()); {
		case rapid.IntRange(0, 3).Draw(t, label+" set") == 0:
		case field.IsList() && field.Message() != nil:
			for range rapid.IntRange(1, 2).Draw(t, label) {
				fill(t, m.Mutable(field).List().AppendMutable().Message())
			}
		case field.IsList():
			m.Mutable(field).List().Append(value(t, field))
		case field.Message() != nil && field.Message().FullName() == "google.protobuf.Duration":
			span := time.Duration(rapid.SampledFrom([]int{1, 7, 30}).Draw(t, label)) * day
			m.Set(field, protoreflect.ValueOfMessage(durationpb.New(span).ProtoReflect()))
		case field.Message() != nil:
			fill(t, m.Mutable(field).Message())
		default:
			m.Set(field, value(t, field))
		}
	}
}

func value(t *rapid.T, field protoreflect.FieldDescriptor) protoreflect.Value {
	label := string(field.FullName())
	switch field.Kind() {
	case protoreflect.BoolKind:
		return protoreflect.ValueOfBool(rapid.IntRange(0, 3).Draw(t, label) > 0)
	case protoreflect.EnumKind:
		return protoreflect.ValueOfEnum(protoreflect.EnumNumber(rapid.IntRange(1, field.Enum().Values().Len()-1).Draw(t, label)))
	case protoreflect.Int32Kind:
		return protoreflect.ValueOfInt32(rapid.SampledFrom([]int32{1, 2, 11}).Draw(t, label))
	case protoreflect.DoubleKind:
		return protoreflect.ValueOfFloat64(rapid.SampledFrom([]float64{0.4, 0.8, 2, 28, 32, 90, 300}).Draw(t, label))
	default: // the texts of a bike are dates, and words that no limit looks at
		ago := time.Duration(rapid.SampledFrom([]int{0, 3, 10, 40}).Draw(t, label)) * day
		return protoreflect.ValueOfString(start().Add(-ago).Format(time.DateOnly))
	}
}

// aRule draws a rule with limits of the field of its need.
func aRule(t *rapid.T, id string, need protoreflect.FieldDescriptor) *pb.Rule {
	rule := &pb.Rule{
		Id: id, Check: pb.Check(pb.Check_value[upper(need)]),
		When:      []pb.Circumstance{rapid.SampledFrom([]pb.Circumstance{pb.Circumstance_ALWAYS, pb.Circumstance_DARK, pb.Circumstance_WET}).Draw(t, id+" when")},
		Otherwise: rapid.SampledFrom([]pb.Rule_Consequence{pb.Rule_ADVISE, pb.Rule_HOLD}).Draw(t, id+" otherwise"),
	}
	if rapid.IntRange(0, 3).Draw(t, id+" unless") == 0 {
		rule.Unless = []pb.Circumstance{pb.Circumstance_ICE}
	}
	fill(t, rule.ProtoReflect().Mutable(need).Message())
	return rule
}

func upper(need protoreflect.FieldDescriptor) string {
	for name := range pb.Check_value {
		if word(pb.Check(pb.Check_value[name])) == string(need.Name()) {
			return name
		}
	}
	return ""
}

// TestHidden: where a rule is said to hide another one, no bike is found that breaks the hidden rule and not, at as high
// a cost, the one that hides it. The checks themselves are the judge.
func TestHidden(t *testing.T) {
	needs := (&pb.Rule{}).ProtoReflect().Descriptor().Oneofs().ByName("need").Fields()
	hidden, broken := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		need := needs.Get(rapid.IntRange(0, needs.Len()-1).Draw(t, "check"))
		if need.Message() == nil {
			return
		}
		strict, mild := aRule(t, "strict", need), aRule(t, "mild", need)
		if rapid.Bool().Draw(t, "alike") { // so that one often hides the other
			proto.Merge(strict, mild)
			strict.Id, strict.When, strict.Unless, strict.Otherwise = "strict", []pb.Circumstance{pb.Circumstance_ALWAYS}, nil, pb.Rule_HOLD
		}
		valid := durationpb.New(28 * day)
		if !hides(strict, mild, valid) {
			return
		}
		hidden++
		book := readiness.Book{Rules: []readiness.Rule{readiness.NewRule(strict, 1), readiness.NewRule(mild, 2)}, DeclarationValid: valid.AsDuration()}
		facts := &pb.BikeFacts{}
		fill(t, facts.ProtoReflect())
		age := time.Duration(rapid.SampledFrom([]int{0, 8, 29, 31}).Draw(t, "age")) * day
		bike := readiness.Subject{Declaration: &pb.Declaration{CertifiedAt: timestamppb.New(start().Add(-age)), Facts: facts}}
		plan := &pb.GroupPlan{
			Group: "g", StartAt: timestamppb.New(start()), LitMin: 30,
			Circumstances: []pb.Circumstance{pb.Circumstance_ALWAYS, pb.Circumstance_DARK, pb.Circumstance_WET},
		}
		standing := map[string]pb.Standing{}
		for _, finding := range readiness.Assess(book, bike, plan, start()).GetFindings() {
			standing[finding.GetRule()] = finding.GetStanding()
		}
		if standing["mild"] > pb.Standing_CLEAR {
			broken++
		}
		if standing["mild"] > standing["strict"] {
			t.Fatalf("the hidden rule costs %v, the other %v\n%v\n%v\n%v", standing["mild"], standing["strict"], mild, strict, facts)
		}
	})
	if hidden == 0 || broken == 0 {
		t.Errorf("%d hidden rules, %d of them broken: nothing was tried", hidden, broken)
	}
	t.Logf("%d hidden rules, %d of them broken", hidden, broken)
}
