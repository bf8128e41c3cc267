package strictyaml_test

import (
	"testing"
	"time"

	"gritward/internal/strictyaml"
)

// TestNumbers: forms of a number with its unit, and what is refused.
func TestNumbers(t *testing.T) {
	for text, want := range map[string]float64{
		"28mm": 28, "28 mm": 28, "28.5mm": 28.5, "0mm": 0, `"28mm"`: 28, "50mm": 50,
	} {
		if got := goodBike(t, "title: b\nguards: {rear: {clearance: "+text+"}}\n").GetGuards().GetRear().GetClearanceMm(); got != want {
			t.Errorf("%s: %v, want %v", text, got, want)
		}
	}
	for text, message := range map[string]string{
		"28": "has no unit", "28cm": "is not in mm", "28  mm": "is not in mm", "28MM": "is not in mm", "mm": "not a number with a unit",
		"028mm": "not a number", "'2,5mm'": "not a number", "+5mm": "not a number", ".5mm": "not a number", "5.mm": "not a number",
		"1e1mm": "is not in mm", "nanmm": "not a number with a unit", ".inf": "not a number with a unit", "--5mm": "not a number",
		"50.1mm": "must be from 0mm to 50mm", "-1mm": "must be from 0mm to 50mm", "[28mm]": "takes one value", "{a: 1}": "takes one value",
		"99999999999999999999999999999999mm": "not a number", "~": "has no value", "''": "not a number with a unit",
	} {
		_, _, problems := bike("title: b\nguards: {rear: {clearance: " + text + "}}\n")
		wantOne(t, problems, 2, 28, "guards.rear.clearance", message)
	}
}

func TestMinutes(t *testing.T) {
	for text, want := range map[string]float64{
		"90min": 90, "90 min": 90, "90m": 90, "1h30m": 90, "2h": 120, "90s": 1.5, "0min": 0, "92.5min": 92.5, "1h 30min": 90,
	} {
		if got := goodBike(t, "title: b\nlights: [{end: rear, runtime: "+text+"}]\n").GetLights()[0].GetRuntimeMin(); got != want {
			t.Errorf("%s: %v, want %v", text, got, want)
		}
	}
	for _, text := range []string{"90", "1d", "1.5h", "90minutes", "h", "30m1h", "1h1h", "-5min"} {
		if _, _, problems := bike("title: b\nlights: [{end: rear, runtime: " + text + "}]\n"); len(problems) != 1 {
			t.Errorf("%s: %d problems\n%s", text, len(problems), strictyaml.Format(problems))
		}
	}
}

func TestWholeNumbers(t *testing.T) {
	for text, message := range map[string]string{
		"2.5": "not a whole number", "010": "is not a number", "0x10": "is not a number", "1_0": "is not a number", "0o7": "is not a number",
		"99999999999": "too large", `"2"`: "is text", "two": "is not a number", "21": "must be from 0 to 20", "true": "is not a number",
	} {
		_, _, problems := bike("title: b\ncarry: {tubes: " + text + "}\n")
		wantOne(t, problems, 2, 16, "carry.tubes", message)
	}
}

func TestWords(t *testing.T) {
	for text, hint := range map[string]string{
		"clipon": "clip-on", "clip_on": "clip-on", "CLIP-ON": "clip-on", "fixd": "fixed", "nnoe": "none",
	} {
		_, _, problems := bike("title: b\nguards: {front: {kind: " + text + "}}\n")
		wantOne(t, problems, 2, 24, "guards.front.kind", "is not a value of kind")
		if want := "did you mean " + hint + "? known here: none, clip-on, fixed"; problems[0].GetHint() != want {
			t.Errorf("%s: hint %q", text, problems[0].GetHint())
		}
	}
	for _, text := range []string{"kind-unspecified", "unspecified", "2", "''"} {
		_, _, problems := bike("title: b\nguards: {front: {kind: " + text + "}}\n")
		wantOne(t, problems, 2, 24, "guards.front.kind", "is not a value of kind")
		if problems[0].GetHint() != "known here: none, clip-on, fixed" {
			t.Errorf("%s: hint %q", text, problems[0].GetHint())
		}
	}
}

func TestDatesAndTruth(t *testing.T) {
	for _, text := range []string{"2026-02-29", "2026-13-01", "26-01-01", "1 Oct 2026", "2026-1-1", "2026-01-01T10:00", "20260101"} {
		_, _, problems := bike("title: b\nframe: {waxed_on: " + text + "}\n")
		wantOne(t, problems, 2, 19, "frame.waxed_on", "is not a date")
	}
	for _, text := range []string{"yes", "on", "TRUE", "1", `"true"`, "True"} {
		_, _, problems := bike("title: b\ncarry: {pump: " + text + "}\n")
		wantOne(t, problems, 2, 15, "carry.pump", "is not true or false")
	}
	if got := goodBike(t, "title: b\nframe: {waxed_on: 2028-02-29}\n").GetFrame().GetWaxedOn(); got != "2028-02-29" {
		t.Errorf("leap day: %q", got)
	}
}

// TestText: text is taken as it is written, also where YAML readers would make something else of it.
func TestText(t *testing.T) {
	for text, want := range map[string]string{
		"2026": "2026", "010": "010", "yes": "yes", "1e3": "1e3", "2026-01-01": "2026-01-01", `"null"`: "null", "'a: b'": "a: b",
	} {
		if got := goodBike(t, "title: "+text+"\n").GetTitle(); got != want {
			t.Errorf("%s: %q, want %q", text, got, want)
		}
	}
	for _, text := range []string{`"a\0b"`, `"a\tb"`, `"a\u202eb"`, `"a\x9bb"`, `"\r"`, `"a\Lb"`, `"a\_b"`} {
		if _, _, problems := bike("title: " + text + "\n"); len(problems) != 1 {
			t.Errorf("%s: %d problems", text, len(problems))
		}
	}
}

func TestDurations(t *testing.T) {
	for text, want := range map[string]time.Duration{
		"30m": 30 * time.Minute, "28d": 28 * 24 * time.Hour, "1h30m": 90 * time.Minute, "90s": 90 * time.Second, "0m": 0,
		"1d2h3m4s": 26*time.Hour + 3*time.Minute + 4*time.Second, "1h 30m": 90 * time.Minute, "36500d": 36500 * 24 * time.Hour,
	} {
		got, err := strictyaml.ParseDuration(text)
		if err != nil || got != want {
			t.Errorf("%s: %v %v", text, got, err)
		}
		if back, err := strictyaml.ParseDuration(strictyaml.FormatDuration(got)); err != nil || back != got {
			t.Errorf("%s: written %s", text, strictyaml.FormatDuration(got))
		}
	}
	for _, text := range []string{"", "30", "m", "1.5h", "-30m", "30m1h", "1h1h", "1w", "PT30M", "1h,30m", "36501d", "99999999999s", "36500d1s"} {
		if got, err := strictyaml.ParseDuration(text); err == nil {
			t.Errorf("%q: %v", text, got)
		}
	}
}
