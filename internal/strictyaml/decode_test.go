package strictyaml_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/testing/protocmp"

	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// TestBikeFile reads one file with every form of value and compares all of it.
func TestBikeFile(t *testing.T) {
	want := &pb.BikeFacts{
		Title: "blue winter bike",
		Guards: &pb.Guards{
			Front: &pb.Guard{Kind: pb.Guard_FIXED, Flap: ptr(true), Secure: ptr(true), ClearanceMm: ptr(6.0), WidthMm: ptr(45.0), ToeGapMm: ptr(100.5)},
			Rear:  &pb.Guard{Kind: pb.Guard_CLIP_ON, Reach: pb.Guard_BELOW_HUB, Flap: ptr(false)},
		},
		Lights: []*pb.Light{
			{End: pb.End_FRONT, Mode: pb.Light_STEADY, Lumens: ptr(400.0), RuntimeMin: ptr(120.0), Power: pb.Light_RECHARGEABLE, Mount: pb.Light_BIKE, ChargedOn: "2026-11-07"},
			{End: pb.End_REAR, Mode: pb.Light_FLASHING, FlashesPerMin: ptr(90.0), Candela: ptr(4.0), RuntimeMin: ptr(90.0), HeightMm: ptr(800.0), Standard: "BS 6102-3"},
			{End: pb.End_REAR, Power: pb.Light_DYNAMO},
		},
		Chain:      &pb.Chain{Speeds: ptr(int32(11)), WearPct: ptr(0.25), MeasuredOn: "2026-10-31", Lubricant: pb.Chain_WET},
		Carry:      &pb.Carry{Tubes: ptr(int32(2)), Pump: ptr(true)},
		OdometerKm: ptr(12345.6),
		Note:       "Creaks when cold.\nBottle cage is loose.",
	}
	if diff := cmp.Diff(want, goodBike(t, bikeFile), protocmp.Transform()); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// TestLineEndings: the same file with \r\n, and with the mark that some editors put first, reads the same.
func TestLineEndings(t *testing.T) {
	want := goodBike(t, bikeFile)
	for name, text := range map[string]string{
		"carriage returns": strings.ReplaceAll(bikeFile, "\n", "\r\n"),
		"byte order mark":  "\ufeff" + bikeFile,
		"document start":   "---\n" + bikeFile,
		"document end":     bikeFile + "...\n",
	} {
		t.Run(name, func(t *testing.T) {
			if got := goodBike(t, text); !equal(want, got) {
				t.Errorf("got %v", got)
			}
		})
	}
}

func TestPositions(t *testing.T) {
	_, positions, _ := bike(bikeFile)
	for path, want := range map[string]int{
		"title": 2, "guards": 3, "guards.rear": 5, "guards.rear.reach": 5, "lights[0]": 7, "lights[1]": 8,
		"lights[1].mode": 9, "lights[2].power": 15, "note": 19,
		"guards.rear.secure": 5, // not in the file: where its guard is
		"lights[7].mode":     6,
		"nothing":            1,
	} {
		if got := positions.Line(path); got != want {
			t.Errorf("line of %s: %d, want %d", path, got, want)
		}
	}
	if line, column := positions.At("guards.rear.reach"); line != 5 || column != 32 {
		t.Errorf("reach at %d:%d, want 5:32", line, column)
	}
}

// TestColumnsCountCharacters: a column counts characters, not bytes, so that a caret stands where an editor shows it.
func TestColumnsCountCharacters(t *testing.T) {
	_, _, problems := bike("{title: Köln – ridé, odometer: 5}\n")
	wantOne(t, problems, 1, 32, "odometer", "has no unit")
}

func TestCap(t *testing.T) {
	var text strings.Builder
	text.WriteString("title: b\nlights:\n")
	for range 300 {
		text.WriteString("  - {end: left}\n")
	}
	_, _, problems := bike(text.String())
	if len(problems) != strictyaml.MaxProblems+1 {
		t.Fatalf("%d problems", len(problems))
	}
	if last := problems[strictyaml.MaxProblems]; !strings.Contains(last.GetMessage(), "and 200 more") {
		t.Errorf("last problem: %v", last) // 300 lamps of no end; that they are too many is told once they are right
	}
}

func TestSorted(t *testing.T) {
	_, _, problems := bike("note: 5\nodometer: 5\nlights: [{end: up}]\nzz: 1\ntitle: ''\n")
	for i := 1; i < len(problems); i++ {
		if problems[i].GetLine() < problems[i-1].GetLine() {
			t.Errorf("not sorted:\n%s", strictyaml.Format(problems))
		}
	}
	if len(problems) != 4 {
		t.Errorf("%d problems, want 4:\n%s", len(problems), strictyaml.Format(problems))
	}
}
