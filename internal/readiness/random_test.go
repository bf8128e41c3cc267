package readiness_test

import (
	"math"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"gritward/internal/readiness"
	"gritward/internal/readiness/readinesstest"
	pb "gritward/proto/gritward/v1"
)

func wholeBike(t testing.TB) *pb.BikeFacts { return readinesstest.WholeBike(t) }

func winterBook(t testing.TB) readiness.Book { return readinesstest.WinterBook(t) }

// winterNight is a group that needs lights for so many minutes, in the season.
func winterNight(litMin float64) *pb.GroupPlan {
	g := group(litMin, ptr(2.0), pb.Circumstance_SEASON)
	g.SeasonFrom, g.Title = "2026-10-01", "Steady"
	return g
}

// damage changes a few facts of a whole bike at random: takes them away, or puts another value that a file could hold.
func damage(t *rapid.T, m protoreflect.Message, chance int) {
	fields := m.Descriptor().Fields()
	for i := range fields.Len() {
		field := fields.Get(i)
		if field.Name() == "end" || field.Kind() == protoreflect.StringKind && !date(field) {
			continue
		}
		hit := rapid.IntRange(0, 99).Draw(t, string(field.Name())) < chance
		switch {
		case hit && rapid.IntRange(0, 2).Draw(t, "clear") == 0:
			m.Clear(field)
		case field.IsList():
			for j := range m.Get(field).List().Len() {
				damage(t, m.Get(field).List().Get(j).Message(), chance)
			}
		case field.Kind() == protoreflect.MessageKind:
			if m.Has(field) {
				damage(t, m.Mutable(field).Message(), chance)
			}
		case hit:
			m.Set(field, value(t, field))
		}
	}
}

func date(field protoreflect.FieldDescriptor) bool {
	name := string(field.Name())
	return len(name) > 3 && name[len(name)-3:] == "_on"
}

func value(t *rapid.T, field protoreflect.FieldDescriptor) protoreflect.Value {
	switch field.Kind() {
	case protoreflect.BoolKind:
		return protoreflect.ValueOfBool(rapid.Bool().Draw(t, "bool"))
	case protoreflect.EnumKind:
		return protoreflect.ValueOfEnum(protoreflect.EnumNumber(rapid.IntRange(0, field.Enum().Values().Len()-1).Draw(t, "enum")))
	case protoreflect.Int32Kind:
		return protoreflect.ValueOfInt32(rapid.Int32Range(0, 14).Draw(t, "int"))
	case protoreflect.DoubleKind:
		return protoreflect.ValueOfFloat64(rapid.SampledFrom([]float64{0, 0.4, 0.5, 1, 1.5, 4, 28, 32, 60, 200, math.Inf(1)}).Draw(t, "number"))
	default:
		return protoreflect.ValueOfString(drawDay(t))
	}
}

// drawDay is a day of the months around the ride, or something that is none.
func drawDay(t *rapid.T) string {
	days := rapid.IntRange(-400, 5).Draw(t, "day")
	if days == -400 {
		return "2026-02-31"
	}
	return start.AddDate(0, 0, days).Format(time.DateOnly)
}

func drawEntry(t *rapid.T) *pb.CareEntry {
	entry := &pb.CareEntry{
		Name: rapid.SampledFrom([]string{"a", "b", "c", "d"}).Draw(t, "name"), DoneOn: drawDay(t),
		Work: pb.CareEntry_Work(rapid.IntRange(0, 20).Draw(t, "work")), End: pb.End(rapid.IntRange(0, 2).Draw(t, "end")),
		Bearing:    pb.CareEntry_Place(rapid.IntRange(0, 5).Draw(t, "bearing")),
		Strikes:    rapid.SampledFrom([]string{"", "a", "b", "c"}).Draw(t, "strikes"),
		RecordedAt: timestamppb.New(evening.Add(-time.Duration(rapid.IntRange(-1, 1000).Draw(t, "recorded")) * time.Hour)),
	}
	if rapid.Bool().Draw(t, "measured") {
		entry.WearPct, entry.ThicknessMm = ptr(0.3), ptr(0.4)
	}
	return entry
}

// drawBike is a bike with some damage and a care log, certified some time before the ride.
func drawBike(t *rapid.T, whole *pb.BikeFacts) readiness.Subject {
	facts := proto.CloneOf(whole)
	damage(t, facts.ProtoReflect(), rapid.SampledFrom([]int{1, 5, 40}).Draw(t, "chance"))
	bike := readiness.Subject{
		Bike: "bike", Care: rapid.SliceOfN(rapid.Custom(drawEntry), 0, 5).Draw(t, "care"),
		Declaration: &pb.Declaration{Facts: facts, CertifiedAt: timestamppb.New(evening.Add(-time.Duration(rapid.IntRange(-1, 800).Draw(t, "age")) * time.Hour))},
	}
	if rapid.Bool().Draw(t, "wet") {
		bike.LastWetRideOn = drawDay(t)
	}
	return bike
}

func drawGroup(t *rapid.T) *pb.GroupPlan {
	g := winterNight(float64(rapid.SampledFrom([]int{0, 0, 30, 300, 900}).Draw(t, "lit")))
	if rapid.Bool().Draw(t, "summer") {
		g.SeasonFrom, g.Circumstances = "", g.Circumstances[:1]
	}
	return g
}

// drawNeeds is the book with what its rules ask changed at random: another measure, another time, more or less asked.
func drawNeeds(t *rapid.T, b readiness.Book) readiness.Book {
	rules := b.Rules
	b.Rules = nil
	for _, rule := range rules {
		changed := proto.CloneOf(rule.Rule)
		m := changed.ProtoReflect()
		if field := m.WhichOneof(m.Descriptor().Oneofs().ByName("need")); field != nil && field.Message() != nil {
			if need := m.Mutable(field).Message(); !drawNeed(t, need) {
				m.Set(field, protoreflect.ValueOfMessage(rule.ProtoReflect().Get(field).Message())) // no policy asks nothing
			}
		}
		changed.Otherwise = pb.Rule_Consequence(rapid.IntRange(1, 3).Draw(t, "otherwise"))
		b.Rules = append(b.Rules, readiness.NewRule(changed, rule.Line))
	}
	return b
}

// drawNeed changes what is asked, and tells whether anything still is.
func drawNeed(t *rapid.T, need protoreflect.Message) (asks bool) {
	fields := need.Descriptor().Fields()
	for i := range fields.Len() {
		field := fields.Get(i)
		switch {
		case rapid.IntRange(0, 2).Draw(t, string(field.Name())) > 0 || field.Kind() == protoreflect.StringKind:
		case rapid.Bool().Draw(t, "clear"):
			need.Clear(field)
		case field.IsList():
		case field.Message() != nil && field.Message().FullName() == "google.protobuf.Duration":
			within := time.Duration(rapid.IntRange(0, 400).Draw(t, "days")) * 24 * time.Hour
			need.Set(field, protoreflect.ValueOfMessage(durationpb.New(within).ProtoReflect()))
		case field.Message() == nil:
			need.Set(field, value(t, field))
		}
	}
	need.Range(func(protoreflect.FieldDescriptor, protoreflect.Value) bool { asks = true; return false })
	return asks
}
