package expression_test

import (
	"errors"
	"math"
	"strings"
	"sync"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/expression"
	pb "gritward/proto/gritward/v1"
)

// compile fails the test where the text does not compile.
func compile(t testing.TB, text string) *expression.Program {
	t.Helper()
	p, issues := expression.Compile(text)
	if len(issues) > 0 {
		t.Fatalf("%s: %v", text, issues)
	}
	return p
}

// outcome is "true", "false", or what the error says.
func outcome(p *expression.Program, facts *pb.BikeFacts, plan *pb.GroupPlan) string {
	met, err := p.Eval(facts, plan)
	switch {
	case err != nil:
		return err.Error()
	case met:
		return "true"
	default:
		return "false"
	}
}

// evaluation is an expression and what comes of it for the bike and the group of main_test.go.
type evaluation struct{ text, want string }

func evaluate(t *testing.T, table []evaluation) {
	t.Helper()
	for _, c := range table {
		t.Run(c.text, func(t *testing.T) {
			if got := outcome(compile(t, c.text), bike(), group()); got != c.want {
				t.Errorf("%s, want %s", got, c.want)
			}
		})
	}
}

// TestLoops goes over lists, with facts in them that were not declared.
func TestLoops(t *testing.T) {
	evaluate(t, []evaluation{
		// The lamp of 120 min lasts for 60 + 30; so it does not matter that the other's run-time was not declared.
		{"bike.lights.exists(l, l.end == REAR && l.runtime_min >= group.lit_min + 30)", "true"},
		{"bike.lights.exists(l, l.end == REAR && l.runtime_min >= group.lit_min + 60)", "true"},
		{"bike.lights.exists(l, l.end == REAR && l.runtime_min >= group.lit_min + 61)", "runtime_min of one of bike.lights is not declared"},
		{"bike.lights.exists(l, l.end == FRONT && l.runtime_min > 400)", "false"},
		{"bike.lights.all(l, l.runtime_min >= 60)", "runtime_min of one of bike.lights is not declared"},
		{"bike.lights.all(l, l.runtime_min >= 200)", "false"},
		{"bike.lights.all(l, !has(l.runtime_min) || l.runtime_min >= 60)", "true"},
		{"bike.lights.exists_one(l, l.end == FRONT)", "true"},
		{"size(bike.lights.filter(l, l.end == REAR)) == 2", "true"},
		{"bike.lights.map(l, l.end == REAR, l.mode)[0] == FLASHING", "mode of one of bike.lights is not declared"},
		{"bike.lights.filter(l, has(l.mode)).map(l, l.mode)[1] == Light.FLASHING", "true"},
		{"REAR in bike.lights.map(l, l.end)", "true"},
	})
}

// TestUndeclared: not declared is neither 0 nor false nor the first word of an enum, and its opposite is not true.
func TestUndeclared(t *testing.T) {
	evaluate(t, []evaluation{
		{"bike.tyres.rear.width_mm < 28", "bike.tyres.rear.width_mm is not declared"},
		{"!(bike.tyres.rear.width_mm >= 28)", "bike.tyres.rear.width_mm is not declared"},
		{"bike.guards.front.kind != FIXED", "bike.guards.front.kind is not declared"},
		{"!bike.carry.phone", "bike.carry.phone is not declared"},
		{"bike.chain.lubricated_on < '2026-12-01'", "bike.chain.lubricated_on is not declared"},
		{"bike.note == ''", "bike.note is not declared"},
		{"has(bike.carry.phone) || bike.carry.pump", "true"},
		{"bike.carry.phone || bike.carry.pump", "true"},
		{"bike.carry.phone && !bike.carry.pump", "false"},
		{"bike.carry.phone ? wet : wet", "bike.carry.phone is not declared"},
		{"has(bike.tyres.rear.width_mm) ? bike.tyres.rear.width_mm >= 28 : bike.tyres.front.width_mm >= 28", "true"},
		{"has(bike.tyres.rear)", "false"},
		{"has(bike.tyres.front) && has(bike.lights) && !has(bike.guards.front.kind)", "true"},
	})
}

// TestEval evaluates expressions all of whose facts are there.
func TestEval(t *testing.T) {
	evaluate(t, []evaluation{
		// Declared as 0, false.
		{"bike.chain.wear_pct < 0.5", "true"},
		{"bike.chain.wear_pct == 0", "true"},
		{"!bike.guards.rear.flap", "true"},
		{"bike.lights.exists(l, l.lumens == 0)", "true"},

		// Numbers mix.
		{"bike.tyres.front.width_mm == 28", "true"},
		{"bike.tyres.front.width_mm in [25, 28]", "true"},
		{"bike.tyres.front.width_mm in [25, 28.5]", "false"},
		{"bike.chain.speeds == 11 && bike.carry.tubes >= 2", "true"},
		{"bike.tyres.front.width_mm + 7 / 2 == 31.5", "true"},
		{"2 * bike.tyres.front.width_mm - -4 == 60", "true"},
		{"bike.tyres.front.width_mm >= (wet ? 28 : 25.5)", "true"},
		{"size(bike.lights) * 20 >= group.lit_min", "true"},
		{"double(size(bike.lights)) / 2 == 1.5", "true"},
		{"[25, 28.0].exists(w, w == bike.tyres.front.width_mm)", "true"},

		// Words, circumstances, the group, texts and times.
		{"bike.guards.rear.kind == FIXED && bike.guards.rear.kind == Guard.FIXED", "true"},
		{"bike.guards.rear.kind in [FIXED, CLIP_ON]", "true"},
		{"wet && dark && !dry && !ice && !season && !poor_visibility", "true"},
		{"Circumstance.WET in group.circumstances", "true"},
		{"group.ice == POSSIBLE", "true"},
		{"group.ice != LIKELY && group.temperature_min_c >= 2", "true"},
		{"group.visibility_min_m < 100", "group.visibility_min_m is not known"},
		{"group.first_dark_at < group.home_at", "group.first_dark_at is not known"},
		{"has(group.start_at)", "false"},
		{"group.dark_min == 0", "true"},
		{"bike.chain.measured_on >= group.season_from", "true"},
		{"bike.title.startsWith('blue') && bike.title.contains('bike')", "true"},
		{"timestamp(bike.chain.measured_on + 'T00:00:00Z') < timestamp('2026-12-13T09:00:00Z') - duration('240h')", "true"},
		{"wet // a remark", "true"},

		// What goes wrong.
		{"size(bike.lights) / 0 > 1", "division by zero"},
		{"bike.chain.wear_pct / 0 > 1", "division by zero"},
		{"bike.tyres.front.width_mm / bike.chain.wear_pct > 1", "division by zero"},
		{"!(bike.chain.wear_pct / bike.chain.wear_pct < 1)", "division by zero"},
		{"9223372036854775807 + size(bike.lights) > 0", "integer overflow"},
		{"bike.lights[7].end == REAR", "index out of bounds: 7"},
		{"bike.lights[-1].end == REAR", "index out of bounds: -1"},
		{"timestamp(bike.title) < group.start_at", `invalid RFC 3339 timestamp "blue winter bike"`},
		{"{'a': wet}['b']", "no such key: b"},
		{"size(bike.lights) / 0 > 1 || wet", "true"},
	})
}

// TestNothing: a bike of which nothing is declared, and a day without a ride.
func TestNothing(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"size(bike.lights) == 0", "bike is not declared"},
		{"wet || bike.carry.pump", "bike is not declared"},
		{"!wet && group.lit_min == 0", "true"},
		{"group.temperature_min_c > -5", "group.temperature_min_c is not known"},
		{"group.start_at > timestamp('1970-01-01T00:00:00Z')", "group.start_at is not known"},
	} {
		if got := outcome(compile(t, c.text), nil, nil); got != c.want {
			t.Errorf("%s: %s, want %s", c.text, got, c.want)
		}
	}
	var missing *expression.MissingError
	if _, err := compile(t, "bike.carry.pump").Eval(&pb.BikeFacts{}, nil); !errors.As(err, &missing) || !missing.OfBike {
		t.Errorf("%v", err)
	}
}

// TestNotANumber: values that no declaration can have count as missing, and never pass.
func TestNotANumber(t *testing.T) {
	facts := &pb.BikeFacts{Tyres: &pb.Tyres{Front: &pb.Tyre{WidthMm: ptr(math.NaN())}}}
	for _, text := range []string{"bike.tyres.front.width_mm >= 28", "!(bike.tyres.front.width_mm < 28)", "bike.tyres.front.width_mm != 28"} {
		if got := outcome(compile(t, text), facts, group()); got != "bike.tyres.front.width_mm is not declared" {
			t.Errorf("%s: %s", text, got)
		}
	}
	plan := &pb.GroupPlan{LitMin: math.NaN(), StartAt: &timestamppb.Timestamp{Seconds: math.MaxInt64}}
	for _, text := range []string{"!(group.lit_min > 0)", "group.start_at > timestamp('2020-01-01T00:00:00Z')"} {
		if got := outcome(compile(t, text), nil, plan); !strings.HasSuffix(got, "is not known") {
			t.Errorf("%s: %s", text, got)
		}
	}
}

// TestBeyondLimits: data larger than the protocol allows are evaluated at a cost that is counted, and stopped.
func TestBeyondLimits(t *testing.T) {
	p := compile(t, "bike.lights.all(a, bike.lights.all(b, a.end == b.end || wet))")
	many := func(n int) *pb.BikeFacts {
		facts := &pb.BikeFacts{}
		for range n {
			facts.Lights = append(facts.Lights, &pb.Light{End: pb.End_REAR})
		}
		return facts
	}
	if got := outcome(p, many(12), group()); got != "true" {
		t.Errorf("12 lamps: %s", got)
	}
	if got := outcome(p, many(13), group()); got != "true" {
		t.Errorf("13 lamps: %s", got)
	}
	if _, err := p.Eval(many(5000), group()); !errors.Is(err, expression.ErrCost) {
		t.Errorf("5,000 lamps: %v", err)
	}
	plan := group()
	for range 100_000 {
		plan.Points = append(plan.Points, &pb.PlanPoint{At: timestamppb.New(time.Unix(0, 0)), DistanceM: 1})
	}
	if _, err := compile(t, "group.points.all(p, p.distance_m > 0)").Eval(nil, plan); !errors.Is(err, expression.ErrCost) {
		t.Errorf("100,000 points: %v", err)
	}
}

// TestValues tells what fields say.
func TestValues(t *testing.T) {
	p := compile(t, "bike.tyres.front.width_mm > 28 && bike.guards.rear.kind == FIXED && bike.guards.rear.flap && bike.carry.phone || "+
		"size(bike.lights) > 2 && bike.chain.measured_on > '' && group.visibility_min_m > 3")
	got := strings.Join(p.Values(bike(), group()), "; ")
	want := "tyres.front.width is 28mm; guards.rear.kind is fixed; guards.rear.flap is false; " +
		"carry.phone is not declared; lights has 3 entries"
	if got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	p = compile(t, "bike.title != '' && bike.carry.tubes > 0 && group.ice == LIKELY && group.visibility_min_m > 3 && group.lit_min > 0")
	want = `title is "blue winter bike"; carry.tubes is 2; group.ice is possible; group.visibility_min_m is not known; group.lit_min is 60`
	if got := strings.Join(p.Values(bike(), group()), "; "); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	p.Values(nil, nil)
}

// TestInFile: a member reads the keys of the bike file, not the names of the protocol.
func TestInFile(t *testing.T) {
	for text, want := range map[string]string{
		"bike.odometer_km < 20000": "odometer < 20000",
		"bike.tyres.front.width_mm >= 28 &&\n bike.tyres.front.clearance_mm > 4": "tyres.front.width >= 28 && tyres.front.clearance > 4",
		"bike.lights.exists(l, l.end == REAR && l.runtime_min >= group.lit_min)": "lights.exists(l, l.end == REAR && l.runtime >= group.lit_min)",
		"has(bike.chain.wear_pct) && bike.chain.wear_pct < 0.5":                  "has(chain.wear) && chain.wear < 0.5",
		"size(bike.lights) > 1": "size(lights) > 1",
	} {
		if got := compile(t, text).InFile(); got != want {
			t.Errorf("%s: %s, want %s", text, got, want)
		}
	}
	var missing *expression.MissingError
	if _, err := compile(t, "bike.tyres.rear.width_mm > 1").Eval(bike(), group()); !errors.As(err, &missing) || missing.Fact != "tyres.rear.width" {
		t.Errorf("%v", missing)
	}
	if _, err := compile(t, "bike.lights.exists(l, l.runtime_min > 1000)").Eval(bike(), group()); !errors.As(err, &missing) || missing.Fact != "runtime of one of lights" {
		t.Errorf("%v", missing)
	}
}

// TestAtOnce uses one program from many goroutines, with errors among the results.
func TestAtOnce(t *testing.T) {
	p := compile(t, "bike.lights.exists(l, l.runtime_min >= group.lit_min)")
	var wait sync.WaitGroup
	for range 8 {
		wait.Go(func() {
			for i := range 200 {
				plan, want := group(), "true"
				if i%2 == 0 {
					plan.LitMin, want = 1000, "runtime_min of one of bike.lights is not declared"
				}
				if got := outcome(p, bike(), plan); got != want {
					t.Errorf("%s, want %s", got, want)
				}
			}
		})
	}
	wait.Wait()
}
