package pace_test

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"gritward/internal/pace"
)

// Every figure of Params has a name, a range that its default lies in, and a source; setting it by its name changes it
// and nothing else.
func TestParameters(t *testing.T) {
	all := pace.Parameters()
	if fields := reflect.TypeFor[pace.Params]().NumField(); fields != len(all) {
		t.Errorf("%d figures, %d of them with a name", fields, len(all))
	}
	seen := map[string]bool{}
	for _, f := range all {
		if seen[f.Name] || f.What == "" || f.Source == "" || strings.ContainsAny(f.Name, " .=,:") {
			t.Errorf("%+v: stands twice, or says too little", f)
		}
		seen[f.Name] = true
		if !(f.Min <= f.Default && f.Default <= f.Max) {
			t.Errorf("%s: default %g is not from %g to %g", f.Name, f.Default, f.Min, f.Max)
		}
		for _, v := range []float64{f.Min, f.Max} {
			p := pace.Defaults()
			if err := p.Set(f.Name, v); err != nil {
				t.Errorf("%s: %v", f.Name, err)
			}
			changed := 0
			was, is := reflect.ValueOf(pace.Defaults()), reflect.ValueOf(p)
			for i := range is.NumField() {
				if is.Field(i).Float() != was.Field(i).Float() {
					changed++
				}
			}
			if want := map[bool]int{true: 0, false: 1}[v == f.Default]; changed != want {
				t.Errorf("%s set to %g: %d figures changed", f.Name, v, changed)
			}
		}
		p := pace.Defaults()
		for _, v := range []float64{f.Min - 1e-9 - math.Abs(f.Min)*1e-9, f.Max * 1.001, math.NaN(), math.Inf(1), math.Inf(-1)} {
			if err := p.Set(f.Name, v); err == nil || !strings.HasPrefix(err.Error(), f.Name+" is ") {
				t.Errorf("%s = %g: %v", f.Name, v, err)
			}
		}
		if p != pace.Defaults() {
			t.Errorf("%s: a refused value changed something", f.Name)
		}
	}
	p := pace.Defaults()
	if err := p.Set("beard_mm", 3); err == nil {
		t.Error("a figure that there is not was set")
	}
}
