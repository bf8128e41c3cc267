package care

import (
	"slices"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// ask is one thing that a rule asks, as a rule of its own.
type ask struct {
	rule  readiness.Rule
	order int    // of the whole rule in the policy
	limit string // field of the need that it is made of; empty: of all the others, or the whole rule
	timed bool   // it limits for how long something may be left
}

// Asked is all that a book asks, taken apart, of each of its rules: it is the same for every bike.
type Asked struct{ rules [][]ask }

// AskedBy takes a book apart.
func AskedBy(book readiness.Book) *Asked {
	asked := &Asked{}
	for order, rule := range book.Rules {
		asked.rules = append(asked.rules, asksOf(rule, order))
	}
	return asked
}

// asksOf takes a rule apart, so that what falls due at different times, or is mended by different work, has an item each:
// every time limit, every limit on wear, each bearing; and the rest. The needs of other checks hang together, as a lamp
// counts only when charged, and stay whole.
func asksOf(rule readiness.Rule, order int) []ask {
	var asks []ask
	add := func(message *pb.Rule, limit string, timed bool) {
		asks = append(asks, ask{readiness.NewRule(message, rule.Line), order, limit, timed})
	}
	switch rule.GetCheck() {
	case pb.Check_BRAKES, pb.Check_TYRES, pb.Check_CHAIN, pb.Check_FRAME, pb.Check_CLEAN:
	case pb.Check_BEARINGS:
		for _, place := range places(rule.GetBearings()) {
			one := proto.CloneOf(rule.Rule)
			if one.GetBearings() != nil {
				one.GetBearings().Which = []pb.CareEntry_Place{place}
			}
			add(one, place.String(), !one.GetBearings().GetSmooth() && !one.GetBearings().GetNoPlay())
		}
		return asks
	default:
		return []ask{{rule: rule, order: order}}
	}
	for _, field := range limitsOf(rule.Rule) {
		add(keep(rule.Rule, func(other protoreflect.Name) bool { return other == field }), string(field),
			!isWearLimit(rule.GetCheck(), field))
	}
	rest := keep(rule.Rule, func(other protoreflect.Name) bool { return !slices.Contains(limitsOf(rule.Rule), other) })
	if rest != nil {
		add(rest, "", false)
	}
	return asks
}

// places are the bearings that a rule looks at.
func places(need *pb.BearingsNeed) []pb.CareEntry_Place {
	if len(need.GetWhich()) > 0 {
		return need.GetWhich()
	}
	return []pb.CareEntry_Place{
		pb.CareEntry_HEADSET, pb.CareEntry_BOTTOM_BRACKET, pb.CareEntry_FRONT_HUB, pb.CareEntry_REAR_HUB, pb.CareEntry_PEDALS,
	}
}

// limitsOf names the fields of a rule's need that limit time or wear, in the order of the protocol.
func limitsOf(rule *pb.Rule) []protoreflect.Name {
	need := needOf(rule.ProtoReflect())
	if need == nil {
		return nil
	}
	var names []protoreflect.Name
	for _, field := range fieldsOf(need) {
		message := field.Message()
		timed := message != nil && message.FullName() == "google.protobuf.Duration"
		if timed || isWearLimit(rule.GetCheck(), field.Name()) {
			names = append(names, field.Name())
		}
	}
	return names
}

// keep is the rule with only those fields of its need; nil where none of them is set.
func keep(rule *pb.Rule, wanted func(protoreflect.Name) bool) *pb.Rule {
	kept := proto.CloneOf(rule)
	need := needOf(kept.ProtoReflect())
	if need == nil {
		return kept
	}
	left := 0
	for _, field := range fieldsOf(need) {
		if wanted(field.Name()) {
			left++
		} else {
			need.Clear(field)
		}
	}
	if left == 0 {
		return nil
	}
	return kept
}

// needOf is the message of a rule's limits; nil where it has none.
func needOf(rule protoreflect.Message) protoreflect.Message {
	field := rule.WhichOneof(rule.Descriptor().Oneofs().ByName("need"))
	if field == nil || field.Message() == nil {
		return nil
	}
	return rule.Mutable(field).Message()
}

// fieldsOf are the fields that are set, in the order of the protocol.
func fieldsOf(m protoreflect.Message) []protoreflect.FieldDescriptor {
	var set []protoreflect.FieldDescriptor
	fields := m.Descriptor().Fields()
	for i := range fields.Len() {
		if m.Has(fields.Get(i)) {
			set = append(set, fields.Get(i))
		}
	}
	return set
}
