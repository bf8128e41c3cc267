package web

import (
	"slices"
	"testing"

	pb "gritward/proto/gritward/v1"
)

// TestToldOnce: what two rules want done is told with the one that costs more.
func TestToldOnce(t *testing.T) {
	open := func(remedy, where string) answer {
		return answer{&pb.Finding{Declared: "not declared", NotDeclared: true, Remedy: remedy}, where}
	}
	lamp := func(declared, remedy string) answer {
		return answer{&pb.Finding{Declared: declared, Remedy: remedy}, ""}
	}
	for name, at := range map[string]struct {
		answers []answer
		want    []string
	}{
		"the same":               {[]answer{open("Declare the tape.", ""), open("Declare the tape.", "")}, []string{"Declare the tape."}},
		"one of several":         {[]answer{open("Declare the tape; the saddle.", ""), open("Declare the tape.", "")}, []string{"Declare the tape; the saddle."}},
		"more than before":       {[]answer{open("Declare the tape.", ""), open("Declare the tape; the saddle.", "")}, []string{"Declare the tape.", "Declare the tape; the saddle."}},
		"the same elsewhere":     {[]answer{open("Declare the lamp.", "after dark"), open("Declare the lamp.", "by day")}, []string{"Declare the lamp.", ""}},
		"of something else":      {[]answer{lamp("1 lamp", "Carry a lamp."), lamp("60 min", "Carry a lamp.")}, []string{"Carry a lamp.", ""}},
		"nothing is known to do": {[]answer{lamp("1 lamp", ""), lamp("1 lamp", "")}, []string{"", ""}},
	} {
		var got []string
		for _, one := range tellOnce(at.answers) {
			got = append(got, one.Remedy)
		}
		if !slices.Equal(got, at.want) {
			t.Errorf("%s: %q, want %q", name, got, at.want)
		}
	}
}
