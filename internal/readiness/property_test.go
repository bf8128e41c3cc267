package readiness_test

import (
	"testing"

	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

func drawLamp(t *rapid.T) *pb.Light {
	lamp := &pb.Light{
		End:   pb.End(rapid.IntRange(1, 2).Draw(t, "end")),
		Mode:  pb.Light_Mode(rapid.IntRange(0, 2).Draw(t, "mode")),
		Mount: pb.Light_Mount(rapid.IntRange(0, 2).Draw(t, "mount")),
		Power: pb.Light_Power(rapid.IntRange(0, 3).Draw(t, "power")),
	}
	if rapid.Bool().Draw(t, "has run-time") {
		lamp.RuntimeMin = ptr(float64(rapid.IntRange(0, 200).Draw(t, "run-time")))
	}
	if rapid.Bool().Draw(t, "has lumens") {
		lamp.Lumens = ptr(float64(rapid.IntRange(0, 30).Draw(t, "lumens")))
	}
	return lamp
}

func drawLightsRule(t *rapid.T) *pb.Rule {
	need := &pb.LightsNeed{
		Front: rapid.Int32Range(0, 2).Draw(t, "front"), Rear: rapid.Int32Range(0, 3).Draw(t, "rear"),
		Steady: rapid.Bool().Draw(t, "steady"), OnBike: rapid.Bool().Draw(t, "on bike"),
	}
	if need.Front == 0 && need.Rear == 0 { // then lamps that are carried are judged, and one more may be worse
		need.Rear = 1
	}
	if rapid.Bool().Draw(t, "asks lumens") {
		need.RearLumens = ptr(15.0)
	}
	return lightsRule(need)
}

func standing(b readiness.Book, facts *pb.BikeFacts, g *pb.GroupPlan) pb.Standing {
	return readiness.Assess(b, subject(facts), g, evening).GetStanding()
}

// TestMoreLightNeverWorsens: another lamp, or a lamp that lasts longer, never makes a standing worse.
func TestMoreLightNeverWorsens(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := book(drawLightsRule(t))
		facts := &pb.BikeFacts{Lights: rapid.SliceOfN(rapid.Custom(drawLamp), 0, 6).Draw(t, "lamps")}
		g := group(float64(rapid.IntRange(0, 200).Draw(t, "lit")), ptr(float64(rapid.IntRange(-25, 25).Draw(t, "temperature"))))
		before := standing(b, facts, g)
		better := proto.CloneOf(facts)
		if n := len(better.Lights); n > 0 && rapid.Bool().Draw(t, "longer") {
			lamp := better.Lights[rapid.IntRange(0, n-1).Draw(t, "which")]
			lamp.RuntimeMin = ptr(lamp.GetRuntimeMin() + float64(rapid.IntRange(0, 100).Draw(t, "more")))
		} else {
			better.Lights = append(better.Lights, drawLamp(t))
		}
		if after := standing(b, better, g); after > before {
			t.Fatalf("%v became %v", before, after)
		}
	})
}

// TestLongerDarkNeverBetters: more minutes with lights, or a colder ride, never make a standing better.
func TestLongerDarkNeverBetters(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := book(drawLightsRule(t))
		facts := &pb.BikeFacts{Lights: rapid.SliceOfN(rapid.Custom(drawLamp), 0, 6).Draw(t, "lamps")}
		lit, temperature := float64(rapid.IntRange(0, 200).Draw(t, "lit")), float64(rapid.IntRange(-25, 25).Draw(t, "temperature"))
		before := standing(b, facts, group(lit, &temperature))
		lit += float64(rapid.IntRange(0, 100).Draw(t, "more"))
		temperature -= float64(rapid.IntRange(0, 20).Draw(t, "colder"))
		if after := standing(b, facts, group(lit, &temperature)); after < before {
			t.Fatalf("%v became %v", before, after)
		}
	})
}

// TestBetterGuardNeverWorsens: a full, secure guard with a flap below the hub, in place of whatever was there, never
// makes a standing worse.
func TestBetterGuardNeverWorsens(t *testing.T) {
	best := &pb.Guard{Kind: pb.Guard_FIXED, Reach: pb.Guard_BELOW_HUB, Flap: ptr(true), Secure: ptr(true)}
	drawGuard := func(t *rapid.T, label string) *pb.Guard {
		guard := &pb.Guard{Kind: pb.Guard_Kind(rapid.IntRange(0, 3).Draw(t, label)), Reach: pb.Guard_Reach(rapid.IntRange(0, 3).Draw(t, "reach"))}
		if rapid.Bool().Draw(t, "flap said") {
			guard.Flap = ptr(rapid.Bool().Draw(t, "flap"))
		}
		if rapid.Bool().Draw(t, "secure said") {
			guard.Secure = ptr(rapid.Bool().Draw(t, "secure"))
		}
		return guard
	}
	rapid.Check(t, func(t *rapid.T) {
		flag := func(label string) bool { return rapid.Bool().Draw(t, label) }
		b := book(guardsRule(&pb.GuardsNeed{
			Front: pb.GuardsNeed_Cover(rapid.IntRange(0, 2).Draw(t, "front")), Rear: pb.GuardsNeed_Cover(rapid.IntRange(0, 2).Draw(t, "rear")),
			FrontFlap: flag("front flap"), RearFlap: flag("rear flap"), RearToHub: flag("to hub"), Secure: flag("secure"),
		}))
		guards := &pb.Guards{Front: drawGuard(t, "front kind"), Rear: drawGuard(t, "rear kind")}
		before := standing(b, &pb.BikeFacts{Guards: guards}, group(0, nil))
		front := standing(b, &pb.BikeFacts{Guards: &pb.Guards{Front: best, Rear: guards.Rear}}, group(0, nil))
		both := standing(b, &pb.BikeFacts{Guards: &pb.Guards{Front: best, Rear: best}}, group(0, nil))
		if front > before || both > front || both != pb.Standing_CLEAR {
			t.Fatalf("%v, with a front guard %v, with both %v", before, front, both)
		}
	})
}

// TestChainsAreExact compares with trying every way to hand each lamp to one of the chains or to none.
func TestChainsAreExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want, steady := rapid.IntRange(1, 3).Draw(t, "want"), rapid.Bool().Draw(t, "steady")
		lights := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) *pb.Light {
			light := rear(float64(rapid.IntRange(0, 130).Draw(t, "run-time")))
			light.Mode = pb.Light_Mode(rapid.IntRange(1, 2).Draw(t, "mode"))
			return light
		}), 0, 7).Draw(t, "lamps")
		b := book(lightsRule(&pb.LightsNeed{Rear: int32(want), Steady: steady}))
		got := standing(b, lamps(lights...), group(70, ptr(20.0))) == pb.Standing_CLEAR
		if try := handOut(lights, make([]float64, want), make([]bool, want), 100, steady); got != try {
			t.Fatalf("met %v, trying every way %v", got, try)
		}
	})
}

// handOut tries every way. flashes marks the chains that have a flashing lamp.
func handOut(lights []*pb.Light, chains []float64, flashes []bool, need float64, steady bool) bool {
	if len(lights) == 0 {
		oneSteady := !steady
		for i, minutes := range chains {
			if minutes < need {
				return false
			}
			oneSteady = oneSteady || !flashes[i]
		}
		return oneSteady
	}
	if handOut(lights[1:], chains, flashes, need, steady) {
		return true
	}
	for i := range chains {
		had := flashes[i]
		chains[i] += lights[0].GetRuntimeMin()
		flashes[i] = had || lights[0].GetMode() == pb.Light_FLASHING
		if handOut(lights[1:], chains, flashes, need, steady) {
			return true
		}
		chains[i] -= lights[0].GetRuntimeMin()
		flashes[i] = had
	}
	return false
}

func BenchmarkAssess(b *testing.B) {
	rules := book(
		lightsRule(&pb.LightsNeed{Front: 1, Rear: 1}),
		guardsRule(&pb.GuardsNeed{Front: pb.GuardsNeed_FULL, Rear: pb.GuardsNeed_FULL, RearFlap: true}),
	)
	full := &pb.Guard{Kind: pb.Guard_FIXED, Flap: ptr(true)}
	bike := subject(&pb.BikeFacts{
		Guards: &pb.Guards{Front: full, Rear: full},
		Lights: []*pb.Light{rear(60), rear(200), {End: pb.End_FRONT, RuntimeMin: ptr(300.0)}},
	})
	g := group(145, ptr(2.0))
	b.ReportAllocs()
	for b.Loop() {
		readiness.Assess(rules, bike, g, evening)
	}
}

// BenchmarkTwelveLamps is the largest partition: twelve lamps of one end, none of which is enough alone.
func BenchmarkTwelveLamps(b *testing.B) {
	need := &pb.LightsNeed{Rear: 4, Steady: true}
	var lights []*pb.Light
	for i := range 12 {
		light := rear(float64(50 + i))
		light.Mode = pb.Light_STEADY
		lights = append(lights, light)
	}
	rules, bike, g := book(lightsRule(need)), subject(lamps(lights...)), group(145, ptr(20.0))
	for b.Loop() {
		readiness.Assess(rules, bike, g, evening)
	}
}
