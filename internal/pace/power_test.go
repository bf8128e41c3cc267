package pace_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"gritward/internal/pace"
)

// lone is a rider alone, with the gravity that the reference data use.
func lone() pace.Params {
	p := pace.Defaults()
	p.DraftFactor, p.GravityMS2 = 1, 9.81
	return p
}

// The worked example of Martin et al. 1998: testdata/pace/README.md. Its
// kinetic term, ½(m + I/r²)(Vf² − Vi²)/Δt, is no part of a steady balance and
// is added here from the paper's figures.
func TestBalanceAgainstMartin1998(t *testing.T) {
	v := map[string]float64{}
	for _, row := range rows(t, "../../testdata/pace/martin1998_example.csv") {
		v[row["quantity"]] = number(t, row["value"])
	}
	p := lone()
	p.MassKg, p.CdAM2, p.Crr = v["total mass"], v["CdA"], v["Crr"]
	p.AirDensityKgM3, p.FwM2 = v["air density"], v["Fw"]
	p.Efficiency, p.GravityMS2 = v["drivetrain efficiency"], v["g"]
	speed := v["distance"] / v["time"]
	headwind := v["wind speed"] * math.Cos((v["wind direction"]-v["travel direction"])*math.Pi/180)
	got := pace.Balance(p, speed, v["gradient"], headwind)
	const limit = 0.1
	near(t, "air", got.AirW, v["power air"], limit)
	near(t, "rolling", got.RollingW, v["power rolling"], limit)
	near(t, "bearings", got.BearingW, v["power bearings"], limit)
	near(t, "gradient", got.GradientW, v["power grade"], limit)
	// The terms as printed, to 0.1 W.
	near(t, "printed air", got.AirW, 158.8, limit)
	near(t, "printed rolling", got.RollingW, 23.6, limit)
	near(t, "printed bearings", got.BearingW, 1.4, limit)
	near(t, "printed gradient", got.GradientW, 22.1, limit)
	mass := v["total mass"] + v["wheel inertia"]/math.Pow(v["tyre radius"], 2)
	kinetic := mass / 2 * (math.Pow(v["final speed"], 2) - math.Pow(v["initial speed"], 2)) / v["time"]
	near(t, "kinetic", kinetic, v["power kinetic"], limit)
	total := pace.PowerW(p, speed, v["gradient"], headwind) + kinetic/p.Efficiency
	near(t, "total", total, v["power total"], limit)
	near(t, "published total", total, v["power total as published"], 0.5)
}

func TestPowerAndSpeedAgainstReference(t *testing.T) {
	worst, all := 0.0, rows(t, "../../testdata/pace/power_public.csv")
	if len(all) != 120 {
		t.Fatalf("%d rows, want 120", len(all))
	}
	for i, row := range all {
		col := func(name string) float64 { return number(t, row[name]) }
		full := lone()
		full.MassKg, full.CdAM2, full.Crr = col("total_mass_kg"), col("cda_m2"), col("crr")
		full.AirDensityKgM3, full.Efficiency = col("air_density_kg_m3"), col("drivetrain_efficiency")
		basic := full
		basic.FwM2, basic.BearingN, basic.BearingNsPerM = 0, 0, 0
		for name, p := range map[string]pace.Params{"full": full, "basic": basic} {
			want := col("speed_" + name + "_m_s")
			got := pace.SpeedMS(p, col("power_w"), col("gradient"), col("headwind_m_s"))
			if !(math.Abs(got-want) <= 0.001*want+1e-6) {
				t.Errorf("row %d, %s: speed %.6f, want %.6f", i+2, name, got, want)
			}
			worst = max(worst, math.Abs(got-want))
			power := pace.PowerW(p, col("probe_speed_m_s"), col("gradient"), col("headwind_m_s"))
			near(t, name+" power", power, col("power_"+name+"_w"), 0.01)
		}
	}
	t.Logf("worst speed error %.2g m/s", worst)
}

// any draws params, gradient and headwind from all that Plan can come to.
func anyRider(t *rapid.T) (p pace.Params, gradient, headwind float64) {
	p = pace.Defaults()
	p.MassKg = rapid.Float64Range(40, 250).Draw(t, "mass")
	p.CdAM2 = rapid.Float64Range(0.1, 1).Draw(t, "cda")
	p.Crr = rapid.Float64Range(0.001, 0.03).Draw(t, "crr")
	p.DraftFactor = rapid.Float64Range(0.3, 1).Draw(t, "draft")
	p.BearingN = rapid.Float64Range(0, 1).Draw(t, "bearing")
	p.BearingNsPerM = rapid.Float64Range(0, 1).Draw(t, "bearing per speed")
	return p, rapid.Float64Range(-1, 1).Draw(t, "gradient"), rapid.Float64Range(-42, 42).Draw(t, "headwind")
}

// The speed solves the balance, and no faster one does.
func TestSpeedIsTheGreatestSolution(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, gradient, headwind := anyRider(t)
		power := rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(0, 2000)).Draw(t, "power")
		v := pace.SpeedMS(p, power, gradient, headwind)
		if back := pace.PowerW(p, v, gradient, headwind); math.Abs(back-power) > 1e-6*(1+power) {
			t.Fatalf("speed %g needs %g W, want %g", v, back, power)
		}
		for more := 1e-6; more < 1000; more *= 1.2 {
			if need := pace.PowerW(p, v+more, gradient, headwind); need < power-1e-6*(1+power) {
				t.Fatalf("speed %g, but %g needs %g of %g W", v, v+more, need, power)
			}
		}
	})
}

func TestSpeedProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, gradient, headwind := anyRider(t)
		power := rapid.Float64Range(0, 2000).Draw(t, "power")
		more := rapid.Float64Range(0, 500).Draw(t, "more")
		v := pace.SpeedMS(p, power, gradient, headwind)
		const hair = 1e-9
		if w := pace.SpeedMS(p, power+more, gradient, headwind); w < v-hair {
			t.Fatalf("%g W: %g m/s; %g W: %g m/s", power, v, power+more, w)
		}
		if w := pace.SpeedMS(p, power, gradient, headwind+more/50); w > v+hair {
			t.Fatalf("more headwind makes faster: %g, %g", v, w)
		}
		if w := pace.SpeedMS(p, power, gradient+more/5000, headwind); gradient > -0.5 && gradient < 0.3 && w > v+hair {
			t.Fatalf("steeper makes faster: %g, %g", v, w)
		}
	})
}

func TestSpeedOfNoSense(t *testing.T) {
	p := pace.Defaults()
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		name                      string
		power, gradient, headwind float64
	}{
		{"power NaN", nan, 0, 0}, {"power negative", -1, -0.1, 0}, {"power infinite", inf, 0, 0}, {"gradient NaN", 100, nan, 0}, {"gradient infinite", 100, inf, 0},
		{"wind NaN", 100, 0, nan}, {"wind infinite", 100, 0, -inf},
	} {
		t.Run(c.name, func(t *testing.T) {
			if v := pace.SpeedMS(p, c.power, c.gradient, c.headwind); !math.IsNaN(v) {
				t.Errorf("got %g", v)
			}
		})
	}
	if v := pace.SpeedMS(pace.Params{}, 100, -0.1, 0); !math.IsNaN(v) {
		t.Errorf("no params at all: got %g", v)
	}
	near(t, "no power on the flat", pace.SpeedMS(p, 0, 0, 0), 0, 1e-9)
	near(t, "no power uphill", pace.SpeedMS(p, 0, 0.05, 3), 0, 1e-9)
	if v := pace.SpeedMS(p, 0, -0.05, 0); v < 10 {
		t.Errorf("coasting down 5 %%: got %g", v)
	}
}
