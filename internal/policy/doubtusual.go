package policy

import (
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"

	pb "gritward/proto/gritward/v1"
)

// usual is what a limit lies within as a rule: beyond, it can be written but is seldom meant. A bound that is nil is none.
// Where no source stands beside a figure it is common practice or from memory, no source.
type usual struct {
	below, above *float64
	low, high    string // what is told of a limit below or above
	write        string // what to write instead
}

const aDay = 24 * 60 * 60.0 // seconds

// everyRide and hardlyAny are told of spans of time in which something is to be done again and again.
const (
	everyRide = "this would have to be done on the eve of nearly every ride"
	hardlyAny = "this lets more than a whole winter go by"
)

// usualLimits are the limits of rules, by message and field. Spans of time are in seconds. Limits that doubtneeds.go and
// doubtwear.go hold against a source are there, and not here.
func usualLimits() map[protoreflect.FullName]usual {
	span := func(least, most float64, write string) usual {
		return usual{below: new(least * aDay), above: new(most * aDay), low: everyRide, high: hardlyAny, write: "write " + write}
	}
	return map[protoreflect.FullName]usual{
		"gritward.v1.BrakesNeed.rim_pad_mm": {below: new(0.5), low: "rim blocks worn to less than 0.5 mm would do, and their holder then grinds the rim",
			above: new(8.0), high: "hardly any rim block can meet this: many have less when new", write: "write rim_pad: 1mm"},
		"gritward.v1.BrakesNeed.looked_within": span(3, 180, "looked_within: 35d"),
		"gritward.v1.TyresNeed.width_min_mm": {above: new(35.0), high: "hardly any bike with rim brakes and guards takes tyres that wide",
			write: "28 to 32 mm is usual in winter; write width_min: 28mm"},
		"gritward.v1.TyresNeed.width_max_rim_mm": {above: new(50.0), high: "this refuses no bike: hardly any with rim brakes takes tyres that wide",
			write: "write width_max_rim: 32mm, or take it out"},
		"gritward.v1.TyresNeed.clearance_mm":  {above: new(12.0), high: "hardly any road bike has so much room at its tyres", write: "write clearance: 4mm"},
		"gritward.v1.TyresNeed.looked_within": span(3, 180, "looked_within: 35d"),
		"gritward.v1.GuardsNeed.clearance_mm": {above: new(15.0), high: "hardly any guard sits so far from its tyre", write: "write clearance: 4mm"},
		"gritward.v1.GuardsNeed.wider_by_mm":  {above: new(25.0), high: "hardly any guard is so much wider than its tyre", write: "8 to 12 mm is usual; write wider_by: 8mm"},
		"gritward.v1.GuardsNeed.toe_gap_mm":   {above: new(150.0), high: "hardly any road bike has so much room before the toe", write: "ISO 4210-2 has 100 mm; write toe_gap: 100mm"},
		"gritward.v1.LightsNeed.front":        {above: new(2.0), high: "hardly anybody carries so many lamps", write: "write front: 1"},
		"gritward.v1.LightsNeed.rear":         {above: new(3.0), high: "hardly anybody carries so many lamps", write: "write rear: 1"},
		"gritward.v1.LightsNeed.front_lumens": {above: new(1500.0), high: "hardly any lamp gives so much for as long as a group is out, and it dazzles whoever comes the other way",
			write: "400 to 1,000 is usual without street lights; write front_lumens: 400lm"},
		"gritward.v1.LightsNeed.rear_lumens":      {above: new(300.0), high: "hardly any rear lamp gives so much, and it dazzles the rider behind", write: "write rear_lumens: 20lm"},
		"gritward.v1.LightsNeed.flashing_candela": {above: new(200.0), high: "hardly any flashing lamp is so strong", write: "Great Britain has 4 cd; write flashing_candela: 4cd"},
		"gritward.v1.LightsNeed.charged_within":   {above: new(60 * aDay), high: "a battery that was charged so long ago can be empty", write: "write charged_within: 14d"},
		"gritward.v1.ChainNeed.measured_within":   span(3, 180, "measured_within: 60d"),
		"gritward.v1.ChainNeed.lubricated_within": span(2, 180, "lubricated_within: 21d"),
		"gritward.v1.ChainNeed.cleaned_within":    span(3, 180, "cleaned_within: 35d"),
		"gritward.v1.BearingsNeed.serviced_within": {below: new(28 * aDay), low: "bearings would have to be serviced every few weeks",
			write: "once a year is usual; write serviced_within: 365d"},
		"gritward.v1.FrameNeed.waxed_within": {below: new(28 * aDay), low: "the frame would have to be waxed every few weeks",
			write: "once a year is usual; write waxed_within: 365d"},
		"gritward.v1.CleanNeed.washed_within":      span(2, 180, "washed_within: 14d"),
		"gritward.v1.CleanNeed.looked_over_within": span(3, 180, "looked_over_within: 35d"),
		"gritward.v1.CarryNeed.tubes":              {above: new(3.0), high: "hardly anybody carries so many tubes", write: "write tubes: 2"},
	}
}

// usualSettings are the same for settings. A lamp's run-time is from memory: bright front lamps last one to three hours.
func usualSettings() map[protoreflect.FullName]usual {
	return map[protoreflect.FullName]usual{
		"gritward.v1.Darkness.margin": {above: new(2 * 3600.0), high: "lights would be asked for hours before dark", write: "write margin: 30m"},
		"gritward.v1.LampReckoning.reserve": {above: new(2 * 3600.0), high: "hardly any bright lamp lasts so long beyond the ride",
			write: "write reserve: 30m"},
		// Fog is a visibility below 1 km (WMO, International Cloud Atlas; from memory).
		"gritward.v1.Policy.poor_visibility_below_m": {above: new(1000.0), high: "visibility would count as poor though there is no fog, which begins below 1 km",
			write: "write poor_visibility_below: 100m"},
		"gritward.v1.Size.max": {above: new(20.0), high: "a group that long is hard to pass, and to keep together", write: "8 to 12 is usual; write max: 12"},
		"gritward.v1.DeclarationLimits.valid": {below: new(7 * aDay), low: "members would have to certify their bikes more than once a week",
			write: "write valid: 28d"},
		"gritward.v1.CallOff.feels_like_below_c": {above: new(5.0), high: "rides would be called off on ordinary days of winter", write: "write feels_like_below: -8C"},
		// A fresh breeze, force 5 of the Beaufort scale, begins at 29 km/h; gusts of a moderate wind reach that.
		"gritward.v1.CallOff.gust_above_kmh":     {below: new(29.0), low: "rides would be called off in the gusts of an ordinary wind", write: "write gust_above: 70km/h"},
		"gritward.v1.CallOff.visibility_below_m": {above: new(1000.0), high: "rides would be called off though there is no fog, which begins below 1 km", write: "write visibility_below: 100m"},
	}
}

// doubtRule is doubtUsual for what a rule needs.
func (c *checker) doubtRule(rule *pb.Rule, path string, table map[protoreflect.FullName]usual) {
	message := rule.ProtoReflect()
	set := message.WhichOneof(message.Descriptor().Oneofs().ByName("need"))
	if set != nil && set.Message() != nil {
		c.doubtUsual(message.Get(set).Message(), path, table)
	}
}

// doubtUsual warns of numbers and spans of time of a message, and of those beneath it, that are seldom meant.
func (c *checker) doubtUsual(message protoreflect.Message, path string, table map[protoreflect.FullName]usual) {
	message.Range(func(field protoreflect.FieldDescriptor, value protoreflect.Value) bool {
		at := join(path, keyOf(field))
		u, known := table[field.FullName()]
		switch {
		case field.IsList() || field.IsMap():
		case known && c.positions.Has(at):
			c.doubtValue(at, u, amount(field, value))
		case field.Message() != nil && field.Message().FullName() != "google.protobuf.Duration":
			c.doubtUsual(value.Message(), at, table)
		}
		return true
	})
}

func (c *checker) doubtValue(at string, u usual, value float64) {
	if u.below != nil && value < *u.below {
		c.warn(at, u.low, u.write)
	}
	if u.above != nil && value > *u.above {
		c.warn(at, u.high, u.write)
	}
}

// amount is a number, or a span of time in seconds.
func amount(field protoreflect.FieldDescriptor, value protoreflect.Value) float64 {
	switch field.Kind() {
	case protoreflect.MessageKind:
		return value.Message().Interface().(*durationpb.Duration).AsDuration().Seconds()
	case protoreflect.DoubleKind:
		return value.Float()
	default:
		return float64(value.Int())
	}
}

// keyOf is the field's key in a policy file.
func keyOf(field protoreflect.FieldDescriptor) string {
	option, _ := proto.GetExtension(field.Options(), pb.E_File).(*pb.FileField)
	if option.GetKey() != "" {
		return option.GetKey()
	}
	return string(field.Name())
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}
