package route_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gritward/internal/route"
)

// The files, their figures and where they come from: testdata/gpx/README.md.
const files = "../../testdata/gpx"

func TestReadAgainstManifest(t *testing.T) {
	for _, row := range rows(t, filepath.Join(files, "gpx_manifest.csv")) {
		t.Run(row["file"], func(t *testing.T) {
			f, err := os.Open(filepath.Join(files, row["file"]))
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			r, err := route.Read(f)
			if row["expect"] != "ok" {
				if err == nil {
					t.Fatalf("read %d points, want an error", len(r.Points))
				}
				return // the words: TestReadRefuses
			}
			if err != nil {
				t.Fatal(err)
			}
			compareWithManifest(t, r, row)
		})
	}
}

func compareWithManifest(t *testing.T, r *route.Route, row map[string]string) {
	near(t, "SegmentsDistanceM", r.SegmentsDistanceM, number(t, row["track_distance_m"]), 0.1)
	near(t, "DistanceM", r.DistanceM, number(t, row["track_distance_joined_m"]), 0.1)
	near(t, "AscentRawM", r.AscentRawM, number(t, row["track_ascent_raw_m"]), 0.01)
	near(t, "last DistM", r.Points[len(r.Points)-1].DistM, r.DistanceM, 0)
	if want := int(number(t, row["waypoints"])); len(r.Waypoints) != want {
		t.Errorf("%d waypoints, want %d", len(r.Waypoints), want)
	}
	if !r.HasElevation || !(r.AscentM <= r.AscentRawM+0.01) {
		t.Errorf("smoothed ascent %g, raw %g", r.AscentM, r.AscentRawM)
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range r.Points {
		low, high = min(low, p.ElevM), max(high, p.ElevM)
	}
	near(t, "lowest", low, number(t, row["ele_min_m"]), 1e-9)
	near(t, "highest", high, number(t, row["ele_max_m"]), 1e-9)
	if strings.Contains(row["file"], "antimeridian") {
		near(t, "MinLonDeg", r.Bounds.MinLonDeg, 179.9, 1e-9)
		near(t, "MaxLonDeg", r.Bounds.MaxLonDeg, -179.86, 1e-9)
		return
	}
	near(t, "MinLatDeg", r.Bounds.MinLatDeg, number(t, row["lat_min"]), 0)
	near(t, "MinLonDeg", r.Bounds.MinLonDeg, number(t, row["lon_min"]), 0)
	near(t, "MaxLatDeg", r.Bounds.MaxLatDeg, number(t, row["lat_max"]), 0)
	near(t, "MaxLonDeg", r.Bounds.MaxLonDeg, number(t, row["lon_max"]), 0)
}

// detail is what gpx_detail.json says of a file.
type detail struct {
	Tracks []struct {
		Name     string
		Segments []struct {
			Points      int
			DistanceM   float64 `json:"distance_m"`
			First, Last [2]float64
		}
	}
}

func TestReadAgainstDetail(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(files, "gpx_detail.json"))
	if err != nil {
		t.Fatal(err)
	}
	var all map[string]detail
	if err := json.Unmarshal(text, &all); err != nil {
		t.Fatal(err)
	}
	seen := 0
	for name, want := range all {
		f, err := os.Open(filepath.Join(files, name))
		if err != nil {
			t.Fatal(err)
		}
		r, err := route.Read(f)
		f.Close()
		if err != nil || len(want.Tracks) != 1 {
			continue
		}
		seen++
		t.Run(name, func(t *testing.T) {
			track := want.Tracks[0]
			first, last := track.Segments[0], track.Segments[len(track.Segments)-1]
			near(t, "distance", r.SegmentsDistanceM, first.DistanceM, 1e-3)
			a, b := r.Points[0], r.Points[len(r.Points)-1]
			if got := [4]float64{a.LatDeg, a.LonDeg, b.LatDeg, b.LonDeg}; got != [4]float64{first.First[0], first.First[1], last.Last[0], last.Last[1]} {
				t.Errorf("ends %v, want %v and %v", got, first.First, last.Last)
			}
			if r.Name != track.Name && track.Name != "" {
				t.Errorf("name %q, want %q", r.Name, track.Name)
			}
		})
	}
	if seen != 6 {
		t.Errorf("%d files compared, want 6", seen)
	}
}

func TestReadExternalEntityLeaksNothing(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "external-entity-secret.txt"), []byte("SECRET"), 0o600); err != nil {
		t.Fatal(err)
	}
	t.Chdir(filepath.Join("..", "..", "testdata", "gpx"))
	f, err := os.Open("synthetic_external_entity.gpx")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	t.Chdir(dir)
	r, err := route.Read(f)
	if r != nil || err == nil || strings.Contains(err.Error(), "SECRET") {
		t.Fatalf("got %v, %v; want a refusal", r, err)
	}
}
