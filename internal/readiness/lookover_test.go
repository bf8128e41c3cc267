package readiness_test

import (
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// drawFound is something that a look-over may find.
func drawFound(t *rapid.T) *pb.Found {
	found := &pb.Found{What: pb.Found_What(rapid.IntRange(1, 10).Draw(t, "what")), End: pb.End(rapid.IntRange(1, 2).Draw(t, "end"))}
	switch found.What {
	case pb.Found_LIGHT_LENT:
		found.RuntimeMin = proto.Float64(rapid.Float64Range(1, 600).Draw(t, "minutes"))
	case pb.Found_PADS_WORN:
		found.PadMm = proto.Float64(rapid.Float64Range(0, 4).Draw(t, "mm"))
	case pb.Found_LIGHT_DEAD:
		found.Label = rapid.SampledFrom([]string{"", "", "saddle"}).Draw(t, "label")
	}
	return found
}

// Whatever look-overs find of whatever bike, taking each back gives the assessment as it was before; what is found leaves the
// declaration as it is; a rule that it makes worse says who found it; and the quick standing is that of the findings.
func TestLookOverTakenBack(t *testing.T) {
	book, whole := winterBook(t), wholeBike(t)
	at := time.Date(2026, 12, 13, 8, 52, 0, 0, time.UTC)
	rapid.Check(t, func(t *rapid.T) {
		bike, night := drawBike(t, whole), drawGroup(t)
		before, declared := readiness.Assess(book, bike, night, at), proto.CloneOf(bike.Declaration)
		var all []*pb.Found
		for range rapid.IntRange(1, 4).Draw(t, "look-overs") {
			look := &pb.LookOver{At: timestamppb.New(at), ByName: "Osric Penhale", Found: rapid.SliceOfN(rapid.Custom(drawFound), 0, 4).Draw(t, "found")}
			bike.Looks, all = append(bike.Looks, look), append(all, look.Found...)
		}
		found := readiness.Assess(book, bike, night, at)
		if quick := readiness.Standing(book, bike, night, at); quick != found.Standing {
			t.Fatalf("quick %v, by the findings %v", quick, found.Standing)
		}
		for i, finding := range found.Findings {
			if finding.Standing > before.Findings[i].Standing && !strings.HasPrefix(finding.Declared, "looked over 08:52 by Osric Penhale: ") {
				t.Fatalf("%s does not say who found it: %v", finding.Rule, finding)
			}
		}
		back := &pb.LookOver{At: timestamppb.New(at), AllFixed: true}
		if rapid.Bool().Draw(t, "one by one") {
			back.AllFixed, back.Fixed = false, all
		}
		bike.Looks = append(bike.Looks, back)
		if after := readiness.Assess(book, bike, night, at); !proto.Equal(after, before) {
			t.Fatalf("taken back:\n%v\nbefore:\n%v", after, before)
		}
		if !proto.Equal(bike.Declaration, declared) {
			t.Fatal("a look-over changed the declaration")
		}
	})
}

// Each fact that can be found breaks a rule of the shipped policy on a bike that meets all of them, and the finding tells
// who found it when, and what was declared when.
func TestEachFoundFact(t *testing.T) {
	book, whole := winterBook(t), wholeBike(t)
	at := time.Date(2026, 12, 13, 8, 52, 0, 0, time.UTC)
	bike := readiness.Subject{Bike: "b", Declaration: &pb.Declaration{Facts: whole, CertifiedAt: timestamppb.New(at.AddDate(0, 0, -10))}}
	was := readiness.Assess(book, bike, winterNight(120), at)
	for what, name := range pb.Found_What_name {
		fact := &pb.Found{What: pb.Found_What(what), End: pb.End_REAR}
		if what == 0 || fact.What == pb.Found_LIGHT_LENT || fact.What == pb.Found_RIM_WORN && whole.Brakes.Rear.Kind != pb.Brake_RIM {
			continue
		}
		bike.Looks = []*pb.LookOver{{At: timestamppb.New(at), ByName: "Osric Penhale", Found: []*pb.Found{fact}}}
		told := false
		for i, finding := range readiness.Assess(book, bike, winterNight(120), at).Findings {
			if finding.Standing > was.Findings[i].Standing {
				told = told || strings.HasPrefix(finding.Declared, "looked over 08:52 by Osric Penhale: ") &&
					strings.HasSuffix(finding.Declared, "; declared 3 Dec 2026: "+was.Findings[i].Declared) && finding.Remedy != ""
			}
		}
		if !told {
			t.Errorf("%s breaks no rule", name)
		}
	}
}
