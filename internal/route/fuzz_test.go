package route_test

import (
	"bytes"
	"errors"
	"math"
	"os"
	"path/filepath"
	"testing"

	"gritward/internal/route"
)

// Whatever comes in: a sound route, or an error of ours, and no panic.
func FuzzRead(f *testing.F) {
	names, err := filepath.Glob(filepath.Join(files, "*.gpx"))
	if err != nil {
		f.Fatal(err)
	}
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		if len(text) < 5_000 {
			f.Add(text)
		}
	}
	f.Add([]byte(gpx(`<wpt lat="52" lon="1"><name>x</name></wpt><trk>` + seg(0, 5) + seg(6, 10) + `</trk><rte>` + pts("rtept", 0, 10) + `</rte>`)))
	f.Fuzz(func(t *testing.T, text []byte) {
		r, err := route.Read(bytes.NewReader(text))
		if err != nil {
			var own *route.Error
			if !errors.As(err, &own) || own.What == "" || own.Next == "" {
				t.Fatalf("%T %v", err, err)
			}
			return
		}
		sum := r.DistanceM + r.SegmentsDistanceM + r.AscentM + r.AscentRawM + r.DescentM
		for _, p := range r.Points {
			sum += p.DistM + p.SmoothElevM + p.LatDeg + p.LonDeg
		}
		for _, w := range r.Waypoints {
			sum += w.DistM + w.OffM
		}
		for _, s := range append(r.Climbs, r.Descents...) {
			sum += s.FromM + s.ToM + s.GradientMean + s.GradientMax + s.GainM
		}
		if math.IsNaN(sum) || math.IsInf(sum, 0) || len(r.Points) < 2 || !(r.DistanceM > 0) {
			t.Fatalf("%+v", r)
		}
	})
}
