package readiness_test

import (
	"strings"
	"testing"

	"cel.dev/cel-go/cel"

	pb "gritward/proto/gritward/v1"
)

// inCEL are the rules of byHand as expressions, one to each rule: another yardstick of speed. Of a rule on both ends, or
// on five bearings, the expression asks the same of each.
func inCEL() []string {
	each := func(text string, parts ...string) string {
		var all []string
		for _, part := range parts {
			all = append(all, "("+strings.ReplaceAll(text, "$", part)+")")
		}
		return strings.Join(all, " && ")
	}
	const front, rear = "bike.guards.front", "bike.guards.rear"
	const left = "0.865"
	lamps := func(end string) string {
		return "bike.lights.exists(l, l.end == " + end + " && (l.power == gritward.v1.Light.Power.DYNAMO || l.runtime_min * " + left + " >= group.lit_min + 30.0))"
	}
	brakes := func(text string) string { return each(text, "bike.brakes.front", "bike.brakes.rear") }
	tyres := func(text string) string { return each(text, "bike.tyres.front", "bike.tyres.rear") }
	bearings := func(text string) string {
		return each(text, "bike.bearings.headset", "bike.bearings.bottom_bracket", "bike.bearings.front_hub", "bike.bearings.rear_hub", "bike.bearings.pedals")
	}
	return []string{
		lamps("gritward.v1.End.FRONT"), lamps("gritward.v1.End.REAR"),
		"bike.lights.exists(l, l.end == gritward.v1.End.FRONT && l.lumens >= 400.0)",
		"bike.reflectors.rear && bike.reflectors.pedals",
		each("$.kind == gritward.v1.Guard.Kind.FIXED", front, rear) + " && bike.guards.rear.flap && bike.guards.rear.reach in " +
			"[gritward.v1.Guard.Reach.HUB, gritward.v1.Guard.Reach.BELOW_HUB]",
		each("$.kind == gritward.v1.Guard.Kind.NONE || $.secure", front, rear),
		"bike.guards.front.clearance_mm >= 4.0 && bike.guards.rear.clearance_mm >= 4.0 && bike.guards.front.width_mm - bike.tyres.front.width_mm >= 8.0 && " +
			"bike.guards.rear.width_mm - bike.tyres.rear.width_mm >= 8.0",
		"bike.contact.tape in [gritward.v1.Contact.Tape.SINGLE, gritward.v1.Contact.Tape.DOUBLE] && bike.contact.bar_ends_plugged && " +
			"bike.contact.saddle == gritward.v1.Contact.Saddle.SOUND && (bike.contact.cleats_sound || bike.contact.pedals != gritward.v1.Contact.Pedals.CLEATS)",
		"bike.contact.tape == gritward.v1.Contact.Tape.DOUBLE",
		brakes("$.kind == gritward.v1.Brake.Kind.HUB || $.kind == gritward.v1.Brake.Kind.FIXED_WHEEL || !$.contaminated && !$.glazed && " +
			"($.kind == gritward.v1.Brake.Kind.DISC && $.pad_mm >= 0.5 || $.kind == gritward.v1.Brake.Kind.RIM && $.pad_mm >= 1.0 && $.rim_wear == gritward.v1.Brake.RimWear.WITHIN)"),
		brakes("$.kind != gritward.v1.Brake.Kind.DISC || $.rotor_mm >= (has($.rotor_min_mm) ? $.rotor_min_mm : 1.5)"),
		brakes("$.kind != gritward.v1.Brake.Kind.DISC || $.bedded_in"),
		brakes("$.kind != gritward.v1.Brake.Kind.DISC || ($.resin_only ? $.compound == gritward.v1.Brake.Compound.RESIN : $.compound in " +
			"[gritward.v1.Brake.Compound.SINTERED, gritward.v1.Brake.Compound.SEMI_METALLIC])"),
		brakes("$.kind == gritward.v1.Brake.Kind.FIXED_WHEEL || $.looked_on >= '2026-11-08' && $.looked_on <= '2026-12-12'"),
		"bike.chain.wear_pct < (bike.chain.speeds < 2 ? 1.0 : bike.chain.speeds < 11 ? 0.75 : 0.5)",
		"bike.chain.lubricated_on >= '2026-11-22' && bike.chain.lubricated_on <= '2026-12-12' && bike.chain.lubricant in " +
			"[gritward.v1.Chain.Lubricant.WET, gritward.v1.Chain.Lubricant.WAX]",
		bearings("$.feel == gritward.v1.Bearing.Feel.SMOOTH"),
		bearings("$.serviced_on >= '2026-07-01' && $.serviced_on <= '2026-12-12'"),
		"!bike.frame.damage_open",
		"bike.frame.waxed_on >= '2025-12-13' && bike.frame.chainstay_protected && bike.frame.cable_rub_protected",
		tyres("$.tread > 0 && $.tread <= 2 && $.cuts > 0 && $.cuts <= 2"),
		tyres("$.width_mm >= 28.0 && $.hard_wearing"),
		"bike.cleaning.looked_over_on >= '2026-11-08' && bike.cleaning.damage_open == ''",
		"bike.carry.tubes >= 2 && bike.carry.pump && bike.carry.tyre_levers && bike.carry.multi_tool && bike.carry.phone && bike.carry.contact_card && bike.carry.warm_layer",
		"group.start_at > timestamp('2026-11-15T00:00:00Z')",
	}
}

// celRules compiles them once; what comes of it judges a bike by all of them, and tells whether it meets them.
func celRules(b *testing.B) func(*pb.BikeFacts, *pb.GroupPlan) bool {
	env, err := cel.NewEnv(cel.Types(&pb.BikeFacts{}, &pb.GroupPlan{}), cel.CrossTypeNumericComparisons(true),
		cel.Variable("bike", cel.ObjectType("gritward.v1.BikeFacts")), cel.Variable("group", cel.ObjectType("gritward.v1.GroupPlan")))
	if err != nil {
		b.Fatal(err)
	}
	var programs []cel.Program
	for _, text := range inCEL() {
		ast, issues := env.Compile(text)
		if issues.Err() != nil {
			b.Fatal(text, issues.Err())
		}
		program, err := env.Program(ast, cel.EvalOptions(cel.OptOptimize))
		if err != nil {
			b.Fatal(err)
		}
		programs = append(programs, program)
	}
	return func(facts *pb.BikeFacts, g *pb.GroupPlan) bool {
		variables := map[string]any{"bike": facts, "group": g}
		for i, program := range programs {
			if out, _, err := program.Eval(variables); err != nil || out.Value() != true {
				b.Log(inCEL()[i], out, err)
				return false
			}
		}
		return true
	}
}
