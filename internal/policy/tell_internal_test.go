package policy

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"

	"gritward/internal/expression"
	pb "gritward/proto/gritward/v1"
)

func shipped(t *testing.T) *Policy {
	t.Helper()
	text, err := os.ReadFile("../../policy/winter.yaml")
	if err != nil {
		t.Fatal(err)
	}
	read, problems := Read("winter.yaml", text)
	if read == nil {
		t.Fatal(problems)
	}
	return read
}

// TestTellsEveryLine holds that each line of the shipped file stands in one passage, each key and each rule has one, and each
// comment is in it word by word.
func TestTellsEveryLine(t *testing.T) {
	p := shipped(t)
	next, keys, rules := int32(1), map[string]bool{}, map[string]bool{}
	for _, passage := range p.Tell() {
		if passage.FirstLine != next || passage.LastLine < passage.FirstLine || len(passage.Told) == 0 {
			t.Fatalf("lines %d to %d follow line %d, and tell %q", passage.FirstLine, passage.LastLine, next-1, passage.Told)
		}
		next = passage.LastLine + 1
		keys[passage.Key], rules[passage.Rule] = true, true
		if passage.Key == "" && passage.Rule == "" && passage.FirstLine > 1 {
			continue // what is kept for trying
		}
		notes := passage.Heading + " " + strings.Join(passage.Notes, " ")
		for _, line := range p.positions.Lines()[passage.FirstLine-1 : passage.LastLine] {
			words := strings.Join(strings.Fields(strings.Trim(strings.TrimSpace(line), "#- ")), " ")
			if strings.HasPrefix(strings.TrimSpace(line), "#") && !strings.Contains(line, "yaml-language-server") && !strings.Contains(notes, words) {
				t.Errorf("%q is not among %q", words, notes)
			}
		}
	}
	if lines := len(p.positions.Lines()); int(next) != lines+1 {
		t.Errorf("the last passage ends before line %d of %d", next, lines)
	}
	fields := p.message.ProtoReflect().Descriptor().Fields()
	for i := range fields.Len() {
		key := strings.TrimSuffix(string(fields.Get(i).Name()), "_m")
		if !keys[key] {
			t.Errorf("%s is not told", key)
		}
	}
	for _, rule := range p.Rules() {
		if !rules[rule.GetId()] || subjects[rule.GetCheck()] == "" {
			t.Errorf("rule %s is not told", rule.GetId())
		}
	}
}

// TestTellsPreamble: what a file says of itself belongs to no setting; what stands right before the first setting does.
func TestTellsPreamble(t *testing.T) {
	const rest = "title: Winter\nseason: {from: 1 Oct, to: 31 Mar}\n"
	for _, at := range []struct {
		file  string
		first []string
		key   string
		line  int32
	}{
		{"# Of the file.\n\n# Of the title.\n" + rest, []string{"Of the file."}, "", 2},
		{"# Of the file.\n#\n# More of it.\n\n\n" + rest, []string{"Of the file.", "More of it."}, "", 5},
		{"# Of the title.\n" + rest, []string{"Of the title."}, "title", 2},
		{"\n\n# Of the title.\n" + rest, []string{"Of the title."}, "title", 4},
		{rest, nil, "title", 1},
	} {
		text, err := os.ReadFile("../../policy/winter.yaml")
		if err != nil {
			t.Fatal(err)
		}
		_, after, _ := strings.Cut(string(text), "\nseason: ")
		_, after, _ = strings.Cut(after, "\n")
		read, problems := Read("winter.yaml", []byte(at.file+after))
		if read == nil {
			t.Fatal(problems)
		}
		told := read.Tell()
		if first := told[0]; first.Key != at.key || first.LastLine != at.line || strings.Join(first.Notes, "|") != strings.Join(at.first, "|") {
			t.Errorf("%q: %v", at.file, first)
		}
		title := told[0]
		if at.key == "" {
			title = told[1]
		}
		if title.Key != "title" || strings.Contains(strings.Join(title.Notes, " "), "Of the file") {
			t.Errorf("%q: %v", at.file, title)
		}
	}
}

// TestTellsEveryLimit changes every value that a policy can have, one at a time, and wants other words.
func TestTellsEveryLimit(t *testing.T) {
	as := shipped(t)
	full := as.Message()
	for i, rule := range full.Rules {
		if need := rule.ProtoReflect().WhichOneof(rule.ProtoReflect().Descriptor().Oneofs().ByName("need")); need != nil && need.Message() != nil {
			fillAll(rule.ProtoReflect().Mutable(need).Message())
		}
		full.Rules[i].Unless = []pb.Circumstance{pb.Circumstance_ICE}
	}
	full.Rules = append(full.Rules,
		&pb.Rule{Id: "own", Check: pb.Check_EXPRESSION, When: []pb.Circumstance{pb.Circumstance_WET}, Otherwise: pb.Rule_HOLD,
			Need: &pb.Rule_Expression{Expression: "bike.odometer_km < 20000"}},
		&pb.Rule{Id: "age", Check: pb.Check_DECLARATION, When: []pb.Circumstance{pb.Circumstance_WET}, Otherwise: pb.Rule_HOLD,
			Need: &pb.Rule_Declaration{Declaration: &pb.DeclarationNeed{Valid: durationpb.New(4e14)}}})
	was := told(as, full)
	changed := 0
	var walk func(path string, at protoreflect.Message, root *pb.Policy)
	walk = func(path string, at protoreflect.Message, root *pb.Policy) {
		fields := at.Descriptor().Fields()
		for i := range fields.Len() {
			field := fields.Get(i)
			in := path + "." + string(field.Name())
			switch {
			case field.ContainingOneof() != nil && !field.ContainingOneof().IsSynthetic() && !at.Has(field):
			case string(field.FullName()) == "gritward.v1.Rule.check": // its limits go with it
			case field.Kind() == protoreflect.MessageKind && field.Message().FullName() != "google.protobuf.Duration" && field.IsList():
				for n := range at.Get(field).List().Len() {
					walk(fmt.Sprintf("%s[%d]", in, n), at.Mutable(field).List().Get(n).Message(), root)
				}
			case field.Kind() == protoreflect.MessageKind && field.Message().FullName() != "google.protobuf.Duration":
				walk(in, at.Mutable(field).Message(), root)
			default:
				before, had := proto.Clone(at.Interface()).ProtoReflect().Get(field), at.Has(field)
				at.Set(field, other(field, before))
				changed++
				if told(as, root) == was {
					t.Errorf("%s reads the same when it is %v", in, at.Get(field))
				}
				if at.Clear(field); had {
					at.Set(field, before)
				}
			}
		}
	}
	walk("policy", full.ProtoReflect(), full)
	if changed < 200 || told(as, full) != was {
		t.Errorf("%d values were changed, and the file is as it was: %v", changed, told(as, full) == was)
	}
}

// told is all that is told of a policy, whose lines are those of a file that was read.
func told(as *Policy, message *pb.Policy) string {
	p := *as
	p.message = proto.CloneOf(message)
	p.book.Lamp, p.book.DeclarationValid = p.message.Lights, p.message.GetDeclaration().GetValid().AsDuration()
	p.book.Rules = rulesOf(p.message, p.positions, make([]*expression.Program, len(message.Rules)))
	var all strings.Builder
	for _, passage := range p.Tell() {
		fmt.Fprintln(&all, passage.Rule, passage.Told, passage.Because)
	}
	return all.String()
}

// fillAll sets every limit of a rule, but for those that mean nothing beside another: of one rear lamp that is steady, that
// lamps of the rear are; of double tape, that it is sound.
func fillAll(need protoreflect.Message) {
	fields := need.Descriptor().Fields()
	for i := range fields.Len() {
		field := fields.Get(i)
		if span := field.Message() != nil && field.Message().FullName() == "google.protobuf.Duration"; !need.Has(field) && (span || field.Message() == nil) {
			need.Set(field, other(field, need.Get(field)))
		}
	}
	switch limits := need.Interface().(type) {
	case *pb.LightsNeed:
		limits.Front, limits.Rear = 2, 2
	case *pb.ContactNeed:
		limits.TapeDouble = false
	}
}

// other is another value than one that a field has.
func other(field protoreflect.FieldDescriptor, value protoreflect.Value) protoreflect.Value {
	if field.IsList() {
		list := field.ContainingMessage()
		made := newMessage(list).Mutable(field).List()
		made.Append(otherOne(field, protoreflect.ValueOfEnum(0)))
		if value.List().Len() == 1 && value.List().Get(0).Interface() == made.Get(0).Interface() {
			made.Set(0, otherOne(field, made.Get(0)))
		}
		return protoreflect.ValueOfList(made)
	}
	return otherOne(field, value)
}

func otherOne(field protoreflect.FieldDescriptor, value protoreflect.Value) protoreflect.Value {
	switch field.Kind() {
	case protoreflect.BoolKind:
		return protoreflect.ValueOfBool(!value.Bool())
	case protoreflect.DoubleKind:
		return protoreflect.ValueOfFloat64(value.Float() + 0.25)
	case protoreflect.Int32Kind:
		return protoreflect.ValueOfInt32(int32(value.Int()) + 1)
	case protoreflect.StringKind:
		return protoreflect.ValueOfString(value.String() + " + 1")
	case protoreflect.EnumKind:
		values := field.Enum().Values()
		if n := value.Enum() + 1; values.ByNumber(n) != nil && (n <= 2 || field.ContainingMessage().Name() != "TyresNeed") {
			return protoreflect.ValueOfEnum(n)
		}
		if value.Enum() == 1 {
			return protoreflect.ValueOfEnum(2)
		}
		return protoreflect.ValueOfEnum(1)
	}
	span := value.Message().Interface().(*durationpb.Duration)
	return protoreflect.ValueOfMessage(durationpb.New(span.AsDuration() + 24*60*60*1e9).ProtoReflect())
}

func newMessage(descriptor protoreflect.MessageDescriptor) protoreflect.Message {
	rule := (&pb.Rule{}).ProtoReflect()
	if rule.Descriptor().FullName() == descriptor.FullName() {
		return rule
	}
	fields := rule.Descriptor().Fields()
	for i := range fields.Len() {
		if message := fields.Get(i).Message(); message != nil && message.FullName() == descriptor.FullName() {
			return rule.Mutable(fields.Get(i)).Message()
		}
	}
	panic(descriptor.FullName())
}
