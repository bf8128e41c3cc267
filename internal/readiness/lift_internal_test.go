package readiness

import (
	"math"
	"slices"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	pb "gritward/proto/gritward/v1"
)

// needs draws limits of any check: the fields of its message, set at random within what a policy file may hold.
func needs(t *rapid.T, m protoreflect.Message) {
	fields := m.Descriptor().Fields()
	for i := range fields.Len() {
		field := fields.Get(i)
		if !rapid.Bool().Draw(t, string(field.Name())) {
			continue
		}
		switch {
		case field.IsList() && field.Kind() == protoreflect.EnumKind:
			m.Mutable(field).List().Append(protoreflect.ValueOfEnum(protoreflect.EnumNumber(rapid.IntRange(1, 2).Draw(t, "enum"))))
		case field.IsList():
			limit := &pb.ChainWearLimit{SpeedsFrom: rapid.Int32Range(1, 12).Draw(t, "speeds"), Pct: 0.5}
			m.Mutable(field).List().Append(protoreflect.ValueOfMessage(limit.ProtoReflect()))
		case field.Kind() == protoreflect.MessageKind:
			span := durationpb.New(time.Duration(rapid.IntRange(1, 60).Draw(t, "days")) * day)
			m.Set(field, protoreflect.ValueOfMessage(span.ProtoReflect()))
		case field.Kind() == protoreflect.BoolKind:
			m.Set(field, protoreflect.ValueOfBool(true))
		case field.Kind() == protoreflect.EnumKind:
			m.Set(field, protoreflect.ValueOfEnum(protoreflect.EnumNumber(rapid.IntRange(1, 2).Draw(t, "enum"))))
		case field.Kind() == protoreflect.Int32Kind:
			m.Set(field, protoreflect.ValueOfInt32(rapid.Int32Range(1, 3).Draw(t, "int")))
		default:
			m.Set(field, protoreflect.ValueOfFloat64(float64(rapid.IntRange(18, 30).Draw(t, "number"))))
		}
	}
}

// anyRule draws a rule of any check but EXPRESSION.
func anyRule(t *rapid.T) Rule {
	checks := slices.DeleteFunc(Known(), func(c pb.Check) bool { return c == pb.Check_EXPRESSION })
	check := rapid.SampledFrom(checks).Draw(t, "check")
	rule := &pb.Rule{Id: "r", Check: check, When: []pb.Circumstance{pb.Circumstance_ALWAYS},
		Otherwise: pb.Rule_Consequence(rapid.IntRange(1, 3).Draw(t, "otherwise"))}
	m := rule.ProtoReflect()
	needs(t, m.Mutable(m.Descriptor().Oneofs().ByName("need").Fields().ByName(protoreflect.Name(word(check)))).Message())
	return NewRule(rule, 1)
}

// anyFacts draws facts of which each is there or not and has any value that a file may hold.
func anyFacts(t *rapid.T, m protoreflect.Message) {
	fields := m.Descriptor().Fields()
	for i := range fields.Len() {
		field := fields.Get(i)
		if rapid.IntRange(0, 3).Draw(t, string(field.Name())) == 0 {
			continue
		}
		switch {
		case field.IsList():
			for range rapid.IntRange(0, 3).Draw(t, "lamps") {
				anyFacts(t, m.Mutable(field).List().AppendMutable().Message())
			}
		case field.Kind() == protoreflect.MessageKind:
			anyFacts(t, m.Mutable(field).Message())
		case field.Kind() == protoreflect.BoolKind:
			m.Set(field, protoreflect.ValueOfBool(rapid.Bool().Draw(t, "bool")))
		case field.Kind() == protoreflect.EnumKind:
			m.Set(field, protoreflect.ValueOfEnum(protoreflect.EnumNumber(rapid.IntRange(0, field.Enum().Values().Len()-1).Draw(t, "enum"))))
		case field.Kind() == protoreflect.Int32Kind:
			m.Set(field, protoreflect.ValueOfInt32(rapid.Int32Range(0, 13).Draw(t, "int")))
		case field.Kind() == protoreflect.DoubleKind:
			m.Set(field, protoreflect.ValueOfFloat64(rapid.SampledFrom([]float64{0, 0.4, 1, 5, 24, 31, 300}).Draw(t, "number")))
		default:
			m.Set(field, protoreflect.ValueOfString(rapid.SampledFrom([]string{"2026-12-01", "2026-10-01", "2026-12-13", ""}).Draw(t, "day")))
		}
	}
}

func anyContext(t *rapid.T, rules ...Rule) (Book, Subject, *pb.GroupPlan, time.Time) {
	start := time.Date(2026, 12, 13, 9, 0, 0, 0, time.UTC)
	facts := &pb.BikeFacts{}
	anyFacts(t, facts.ProtoReflect())
	bike := Subject{LastWetRideOn: "2026-12-06", Declaration: &pb.Declaration{Facts: facts, CertifiedAt: timestamppb.New(start.Add(-time.Duration(rapid.IntRange(1, 90).Draw(t, "age")) * day))}}
	group := &pb.GroupPlan{StartAt: timestamppb.New(start), LitMin: float64(rapid.IntRange(0, 200).Draw(t, "lit")), TemperatureMinC: ptr(-5.0), SeasonFrom: "2026-10-01"}
	return Book{Rules: rules, DeclarationValid: 28 * day}, bike, group, start.Add(-14 * time.Hour)
}

// TestMendMends: whatever the rule and the bike, carrying out the remedy meets the rule.
func TestMendMends(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rule := anyRule(t)
		book, bike, group, at := anyContext(t, rule)
		c := newContext(&book, &bike, group, at)
		l := lifting{c: c, now: c.standing()}
		if l.find(); len(l.broken) == 0 {
			return
		}
		before := proto.CloneOf(bike.Declaration)
		if got := l.reach([]int{0}); got != pb.Standing_CLEAR {
			t.Fatalf("%v: still %v", rule.Rule, got)
		}
		if !proto.Equal(before, bike.Declaration) {
			t.Fatal("the declaration was changed")
		}
	})
}

// TestWaysAreSmallest compares with trying every set of remedies: the ways are those that no smaller one is part of,
// fewest first, then in the policy's order.
func TestWaysAreSmallest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var rules []Rule
		for range rapid.IntRange(1, 6).Draw(t, "rules") {
			rules = append(rules, anyRule(t))
		}
		book, bike, group, at := anyContext(t, rules...)
		c := newContext(&book, &bike, group, at)
		l := lifting{c: c, now: c.standing()}
		l.find()
		for target := pb.Standing_CLEAR; target < l.now; target++ {
			got, want := l.ways(target), every(&l, target)
			if !slices.EqualFunc(got, want[:min(len(want), maxWays)], slices.Equal[[]int]) {
				t.Fatalf("to %v: %v, want %v", target, got, want)
			}
		}
	})
}

// every finds the smallest sets by trying all, the sets being the bits of a number.
func every(l *lifting, target pb.Standing) [][]int {
	reaches := func(set int) bool { return l.reach(members(set)) <= target }
	costly := 0
	for i, b := range l.broken {
		if b.rule.form.cost > target {
			costly |= 1 << i
		}
	}
	if l.reach(members(costly)) != target {
		return nil
	}
	var found [][]int
	for set := 1; set <= costly; set++ {
		if set&^costly != 0 || !reaches(set) {
			continue
		}
		smallest := true
		for part := (set - 1) & set; part != 0 && smallest; part = (part - 1) & set {
			smallest = !reaches(part)
		}
		if smallest {
			found = append(found, members(set))
		}
	}
	slices.SortStableFunc(found, func(a, b []int) int {
		if len(a) != len(b) {
			return len(a) - len(b)
		}
		return slices.Compare(a, b)
	})
	return found
}

func members(set int) []int {
	var list []int
	for i := 0; set>>i != 0; i++ {
		if set>>i&1 == 1 {
			list = append(list, i)
		}
	}
	return list
}

// TestDays compares reading and writing of days with package time.
func TestDays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.StringMatching(`[0-9]{4}-[01][0-9]-[0-3][0-9]`), rapid.StringMatching(`.{0,12}`)).Draw(t, "text")
		want, err := time.Parse(time.DateOnly, text)
		got := parseDay(text)
		if (err == nil && want.Year() > 0) != (got != noDay) {
			t.Fatalf("%q: %v, package time says %v", text, got, err)
		}
		if got == noDay {
			return
		}
		if !got.time().Equal(want) || got.text() != text || want.Year() > 999 && got.words() != want.Format("2 January 2006") || dayOf(want.Add(23*time.Hour), time.UTC) != got {
			t.Fatalf("%q: %v", text, got.time())
		}
	})
}

// TestNumbers compares the fast way of writing numbers with package strconv.
func TestNumbers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.OneOf(rapid.Float64(), rapid.Map(rapid.IntRange(-2_000_000, 2_000_000), func(n int) float64 { return float64(n) / 1000 }),
			rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), math.Copysign(0, -1), 1e9, 0.0005})).Draw(t, "x")
		var w words
		if w.measure(x, ""); w.b.String() != decimal(x+0) { // + 0: no minus before a nought
			t.Fatalf("%q, want %q", w.b.String(), decimal(x+0))
		}
	})
}
