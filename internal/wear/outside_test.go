package wear_test

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"gritward/internal/wear"
)

// outside is testdata/slopes.json; its README says where it comes from.
type outside struct {
	Slopes []struct {
		Name                                  string
		X, Y                                  []float64
		Probability, Siegel, Theil, Low, High float64
	}
	WetAndDry []struct {
		Readings [][3]float64
		Dry      float64 `json:"dry_per_1000_km"`
		Wet      float64 `json:"wet_per_1000_km"`
	} `json:"wet_and_dry"`
}

func readOutside(t *testing.T) outside {
	t.Helper()
	data, err := os.ReadFile("testdata/slopes.json")
	if err != nil {
		t.Fatal(err)
	}
	var o outside
	if err := json.Unmarshal(data, &o); err != nil {
		t.Fatal(err)
	}
	if len(o.Slopes) < 10 || len(o.WetAndDry) < 5 {
		t.Fatalf("%d slopes, %d of wet and dry", len(o.Slopes), len(o.WetAndDry))
	}
	return o
}

// TestSlope: Siegel's slope and Sen's interval are those of another implementation.
func TestSlope(t *testing.T) {
	for _, c := range readOutside(t).Slopes {
		t.Run(c.Name, func(t *testing.T) {
			got, ok := wear.Slope(c.X, c.Y, c.Probability)
			if !ok || differs(got.Middle, c.Siegel) || differs(got.Low, c.Low) || differs(got.High, c.High) {
				t.Errorf("got %v %v, want %v", got, ok, c)
			}
			// Theil's and Siegel's are estimates of the same slope; the interval holds both.
			if c.Theil < got.Low || c.Theil > got.High {
				t.Errorf("Theil's slope %v is outside %v", c.Theil, got)
			}
		})
	}
}

// TestSen: the example of Sen 1968 as published: 4 by the median of all slopes, 26/7 to 35/8.
func TestSen(t *testing.T) {
	c := readOutside(t).Slopes[0]
	got, _ := wear.Slope(c.X, c.Y, 0.95)
	if differs(got.Low, 26.0/7) || differs(got.High, 35.0/8) || math.Abs(got.Middle-4) > 0.01 {
		t.Errorf("%v", got)
	}
}

// TestWetAndDryOutside: with two readings far off, the rates are near the least-squares plane through the others.
func TestWetAndDryOutside(t *testing.T) {
	for _, c := range readOutside(t).WetAndDry {
		part := wear.Part{Limit: 3, Rising: true, FloorSpread: 0.05}
		for _, r := range c.Readings {
			part.Readings = append(part.Readings, wear.Reading{Km: r[0], WetKm: r[1], Value: r[2]})
		}
		p := wear.Project(part, 0.5)
		if p.Basis != wear.WetAndDry {
			t.Errorf("basis %v of %v", p.Basis, c.Readings)
		}
		for _, rate := range [][2]float64{{p.DryPer1000Km, c.Dry}, {p.WetPer1000Km, c.Wet}} {
			if off := math.Abs(rate[0] - rate[1]); off > 0.03 && off > 0.2*rate[1] {
				t.Errorf("%.4f for 1,000 km, want %.4f: %v", rate[0], rate[1], c.Readings)
			}
		}
	}
}

func differs(got, want float64) bool {
	return !(math.Abs(got-want) <= 1e-12*max(1e-3, math.Abs(want)))
}
