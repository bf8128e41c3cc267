package readiness_test

import (
	"math"
	"testing"

	"google.golang.org/protobuf/proto"

	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// TestSixtyMinutes: a rear light of 60 min is good for a group that is home early, and holds the bike in one that is
// not. With 30 min in reserve it covers up to 30 min with lights.
func TestSixtyMinutes(t *testing.T) {
	b, bike := book(lightsRule(&pb.LightsNeed{Rear: 1})), subject(lamps(rear(60)))
	for _, c := range []struct {
		litMin float64
		want   pb.Standing
	}{
		{0, pb.Standing_CLEAR}, {1, pb.Standing_CLEAR}, {29.999, pb.Standing_CLEAR}, {30, pb.Standing_CLEAR},
		{30.001, pb.Standing_HELD}, {31, pb.Standing_HELD}, {145, pb.Standing_HELD},
	} {
		if f := finding(t, b, bike, group(c.litMin, ptr(20.0))); f.GetStanding() != c.want {
			t.Errorf("%v min with lights: %v, want %v", c.litMin, f.GetStanding(), c.want)
		}
	}
}

// TestLightWords compares whole findings with what a person should read.
func TestLightWords(t *testing.T) {
	b := book(lightsRule(&pb.LightsNeed{Rear: 1}))
	const needed = "1 rear lamp for 175 min (145 min with lights + 30 min in reserve)"
	for name, c := range map[string]struct {
		facts        *pb.BikeFacts
		temperatureC *float64
		want         *pb.Finding
	}{
		"cold": {lamps(rear(60)), ptr(2.0), &pb.Finding{
			Declared:  "1 rear lamp for 60 min (at 2 °C: 51 min)",
			Shortfall: "the light at the rear is 124 min short",
			Remedy: "The light at the rear is 124 min short. Use a mode that lasts at least 203 min at room temperature (175 min at 2 °C), or carry " +
				"another rear lamp that lasts at least 143 min at room temperature (124 min at 2 °C): lamps used one after the other add up. " +
				"Or ride in a group that is home earlier.",
		}},
		"warm": {lamps(rear(60)), ptr(25.0), &pb.Finding{
			Declared:  "1 rear lamp for 60 min",
			Shortfall: "the light at the rear is 115 min short",
			Remedy: "The light at the rear is 115 min short. Use a mode that lasts at least 175 min, or carry " +
				"another rear lamp that lasts at least 115 min: lamps used one after the other add up. " +
				"Or ride in a group that is home earlier.",
		}},
		"temperature not known": {lamps(rear(60), rear(50)), nil, &pb.Finding{
			Declared:  "2 rear lamps for 60 min and for 50 min (temperature not known: no loss in the cold reckoned)",
			Shortfall: "the light at the rear is 65 min short",
			Remedy: "The light at the rear is 65 min short. Use modes that together last at least 175 min, or carry " +
				"another rear lamp that lasts at least 65 min: lamps used one after the other add up. " +
				"Or ride in a group that is home earlier.",
		}},
		"no lamp at all": {lamps(), nil, &pb.Finding{
			Declared: "not declared", NotDeclared: true,
			Remedy: "Carry 1 rear lamp that lasts at least 175 min, fully charged.",
		}},
		"other end only": {lamps(&pb.Light{End: pb.End_FRONT, RuntimeMin: ptr(300.0)}), nil, &pb.Finding{
			Declared: "no rear lamp",
			Remedy:   "Carry 1 rear lamp that lasts at least 175 min, fully charged.",
		}},
		"run-time not declared": {lamps(&pb.Light{End: pb.End_REAR}), ptr(0.0), &pb.Finding{
			Declared: "1 rear lamp with run-time not declared", NotDeclared: true,
			Remedy: "Declare how long the rear lamp lasts in the mode used. Or ride in a group that is home earlier.",
		}},
	} {
		t.Run(name, func(t *testing.T) {
			c.want.Rule, c.want.Check, c.want.Standing, c.want.Needed, c.want.PolicyLine = "lights", pb.Check_LIGHTS, pb.Standing_HELD, needed, 10
			if got := finding(t, b, subject(c.facts), group(145, c.temperatureC)); !proto.Equal(got, c.want) {
				t.Errorf("got  %v\nwant %v", got, c.want)
			}
		})
	}
}

// TestLamps: which lamps meet 100 min with lights and 30 in reserve.
func TestLamps(t *testing.T) {
	dynamo := &pb.Light{End: pb.End_REAR, Power: pb.Light_DYNAMO}
	with := func(light *pb.Light, set func(*pb.Light)) *pb.Light {
		light = proto.CloneOf(light)
		set(light)
		return light
	}
	steady := func(l *pb.Light) { l.Mode = pb.Light_STEADY }
	flashing := func(l *pb.Light) { l.Mode = pb.Light_FLASHING }
	onBike, onRider := func(l *pb.Light) { l.Mount = pb.Light_BIKE }, func(l *pb.Light) { l.Mount = pb.Light_RIDER }
	lumens := func(x float64) func(*pb.Light) { return func(l *pb.Light) { l.Lumens = ptr(x) } }
	one, two := &pb.LightsNeed{Rear: 1}, &pb.LightsNeed{Rear: 2}
	steadyOne, steadyTwo := &pb.LightsNeed{Rear: 1, Steady: true}, &pb.LightsNeed{Rear: 2, Steady: true}
	bright, fixed := &pb.LightsNeed{Rear: 1, RearLumens: ptr(15.0)}, &pb.LightsNeed{Rear: 1, OnBike: true}
	for name, c := range map[string]struct {
		need        *pb.LightsNeed
		lights      []*pb.Light
		met, silent bool
	}{
		"just enough":                {one, []*pb.Light{rear(130)}, true, false},
		"just short":                 {one, []*pb.Light{rear(129.99)}, false, false},
		"one after the other":        {one, []*pb.Light{rear(65), rear(65)}, true, false},
		"three tenths":               {one, []*pb.Light{rear(129.7), rear(0.1), rear(0.1), rear(0.1)}, true, false},
		"dynamo":                     {one, []*pb.Light{dynamo}, true, false},
		"none":                       {one, nil, false, true},
		"front only":                 {one, []*pb.Light{{End: pb.End_FRONT, RuntimeMin: ptr(900.0)}}, false, false},
		"no run-time":                {one, []*pb.Light{{End: pb.End_REAR}}, false, true},
		"no run-time but a spare":    {one, []*pb.Light{{End: pb.End_REAR}, rear(130)}, true, false},
		"run-time of zero":           {one, []*pb.Light{rear(0)}, false, false},
		"two at a time":              {two, []*pb.Light{rear(130), rear(130)}, true, false},
		"two in chains":              {two, []*pb.Light{rear(100), rear(90), rear(40), rear(30)}, true, false},
		"enough in sum, not in two":  {two, []*pb.Light{rear(129), rear(129), rear(1)}, false, false},
		"one for ever is not two":    {two, []*pb.Light{dynamo}, false, false},
		"dynamo and a chain":         {two, []*pb.Light{dynamo, rear(70), rear(60)}, true, false},
		"steady":                     {steadyOne, []*pb.Light{with(rear(130), steady)}, true, false},
		"flashing":                   {steadyOne, []*pb.Light{with(rear(130), flashing)}, false, false},
		"steady for a part":          {steadyOne, []*pb.Light{with(rear(100), steady), with(rear(130), flashing)}, false, false},
		"mode not declared":          {steadyOne, []*pb.Light{rear(130)}, false, true},
		"one of two steady":          {steadyTwo, []*pb.Light{with(rear(130), steady), with(rear(130), flashing)}, true, false},
		"both flashing":              {steadyTwo, []*pb.Light{with(rear(130), flashing), with(rear(130), flashing)}, false, false},
		"steady chain of the two":    {steadyTwo, []*pb.Light{with(rear(70), steady), with(rear(60), steady), with(rear(130), flashing)}, true, false},
		"steady minutes used twice":  {steadyTwo, []*pb.Light{with(rear(70), steady), with(rear(60), steady), with(rear(129), flashing)}, false, false},
		"bright":                     {bright, []*pb.Light{with(rear(130), lumens(15))}, true, false},
		"dim":                        {bright, []*pb.Light{with(rear(130), lumens(14.9))}, false, false},
		"lumens not declared":        {bright, []*pb.Light{rear(130)}, false, true},
		"dim does not help":          {bright, []*pb.Light{with(rear(65), lumens(15)), with(rear(65), lumens(5))}, false, false},
		"fixed to the bike":          {fixed, []*pb.Light{with(rear(130), onBike)}, true, false},
		"on the rider":               {fixed, []*pb.Light{with(rear(130), onRider)}, false, false},
		"mount not declared":         {fixed, []*pb.Light{rear(130)}, false, true},
		"on the rider where allowed": {one, []*pb.Light{with(rear(130), onRider)}, true, false},
		"no number":                  {one, []*pb.Light{rear(math.NaN())}, false, false},
	} {
		t.Run(name, func(t *testing.T) {
			f := finding(t, book(lightsRule(c.need)), subject(lamps(c.lights...)), group(100, ptr(20.0)))
			if met := f.GetStanding() == pb.Standing_CLEAR; met != c.met || f.GetNotDeclared() != c.silent {
				t.Errorf("met %v, want %v; not declared %v, want %v; %v", met, c.met, f.GetNotDeclared(), c.silent, f)
			}
		})
	}
}

// TestRounding: run-time that is enough on paper is enough, though 750 times 0.072 comes to a little less than 54.
func TestRounding(t *testing.T) {
	b := book(lightsRule(&pb.LightsNeed{Rear: 1}))
	b.Lamp.Cold = []*pb.ColdPoint{{AtC: 0, Left: 0.072}}
	left := b.Lamp.Cold[0].Left
	if product := 750 * left; product >= 54 {
		t.Fatalf("no rounding to test: %v", product)
	}
	if f := finding(t, b, subject(lamps(rear(750))), group(24, ptr(0.0))); f.GetStanding() != pb.Standing_CLEAR {
		t.Errorf("%v", f)
	}
}

// TestNoDark: without minutes with lights the lamps must be there, whatever their run-time.
func TestNoDark(t *testing.T) {
	b := book(lightsRule(&pb.LightsNeed{Front: 1, Rear: 2}))
	facts := lamps(&pb.Light{End: pb.End_FRONT}, rear(0), rear(1))
	f := finding(t, b, subject(facts), group(0, nil))
	if f.GetStanding() != pb.Standing_CLEAR || f.GetNeeded() != "1 front lamp and 2 rear lamps" {
		t.Errorf("%v", f)
	}
	f = finding(t, b, subject(lamps(facts.Lights[:2]...)), group(0, nil))
	if f.GetStanding() != pb.Standing_HELD || f.GetRemedy() != "Carry 1 more rear lamp." {
		t.Errorf("%v", f)
	}
}

// TestMinutesNotKnown: where the minutes with lights are no number, no battery is enough.
func TestMinutesNotKnown(t *testing.T) {
	b := book(lightsRule(&pb.LightsNeed{Rear: 1}))
	if f := finding(t, b, subject(lamps(rear(60000))), group(math.NaN(), nil)); f.GetStanding() != pb.Standing_HELD {
		t.Errorf("%v", f)
	}
	if f := finding(t, b, subject(lamps(&pb.Light{End: pb.End_REAR, Power: pb.Light_DYNAMO})), group(math.NaN(), nil)); f.GetStanding() != pb.Standing_CLEAR {
		t.Errorf("%v", f)
	}
}

// TestCold: the default curve at, between and beyond its points, and a club's own. The default is from memory.
func TestCold(t *testing.T) {
	own := []*pb.ColdPoint{{AtC: 10, Left: 0.9}, {AtC: -10, Left: 0.5}}
	for _, c := range []struct {
		points []*pb.ColdPoint
		atC    float64
		want   float64
	}{
		{nil, 40, 1}, {nil, 20, 1}, {nil, 10, 0.925}, {nil, 0, 0.85}, {nil, -5, 0.8}, {nil, -10, 0.75}, {nil, -20, 0.5}, {nil, -40, 0.5},
		{own, 20, 0.9}, {own, 0, 0.7}, {own, -30, 0.5}, {own[:1], -30, 0.9},
	} {
		if got := readiness.ColdFraction(c.points, c.atC); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("at %v C: %v, want %v", c.atC, got, c.want)
		}
	}
	// 87.5 % of the charge at 2 C that one 18650 cell gave at 32 C (ICSI 2016, 19(2), abstract): the default is near.
	if got := readiness.ColdFraction(nil, 2); math.Abs(got-0.875) > 0.02 {
		t.Errorf("at 2 C: %v", got)
	}
}
