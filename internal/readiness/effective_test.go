package readiness_test

import (
	"slices"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

func entry(work pb.CareEntry_Work, on string, set func(*pb.CareEntry)) *pb.CareEntry {
	at, _ := time.Parse(time.DateOnly, on)
	e := &pb.CareEntry{Name: on, Work: work, DoneOn: on, RecordedAt: timestamppb.New(at.Add(15 * time.Hour))}
	if set != nil {
		set(e)
	}
	return e
}

// TestEffective: what each kind of work changes of a bike certified on 1 December, and what it leaves alone.
func TestEffective(t *testing.T) {
	front, headset := func(e *pb.CareEntry) { e.End = pb.End_FRONT }, func(e *pb.CareEntry) { e.Bearing = pb.CareEntry_HEADSET }
	thick := func(e *pb.CareEntry) { e.End, e.ThicknessMm = pb.End_FRONT, ptr(1.6) }
	const on = "2026-12-05"
	for name, c := range map[string]struct {
		entry *pb.CareEntry
		want  func(*pb.BikeFacts)
	}{
		"chain measured":           {entry(pb.CareEntry_CHAIN_MEASURED, on, func(e *pb.CareEntry) { e.WearPct = ptr(0.4) }), func(f *pb.BikeFacts) { f.Chain.WearPct, f.Chain.MeasuredOn = ptr(0.4), on }},
		"chain measured, no value": {entry(pb.CareEntry_CHAIN_MEASURED, on, nil), func(*pb.BikeFacts) {}},
		"chain renewed":            {entry(pb.CareEntry_CHAIN_RENEWED, on, nil), func(f *pb.BikeFacts) { f.Chain.WearPct, f.Chain.MeasuredOn = ptr(0.0), on }},
		"chain lubricated":         {entry(pb.CareEntry_CHAIN_LUBRICATED, on, nil), func(f *pb.BikeFacts) { f.Chain.LubricatedOn = on }},
		"chain degreased":          {entry(pb.CareEntry_CHAIN_DEGREASED, on, nil), func(f *pb.BikeFacts) { f.Chain.CleanedOn = on }},
		"pads measured":            {entry(pb.CareEntry_PADS_MEASURED, on, thick), func(f *pb.BikeFacts) { f.Brakes.Front.PadMm, f.Brakes.Front.LookedOn = ptr(1.6), on }},
		"pads measured, no end":    {entry(pb.CareEntry_PADS_MEASURED, on, nil), func(*pb.BikeFacts) {}},
		"pads renewed": {entry(pb.CareEntry_PADS_RENEWED, on, front), func(f *pb.BikeFacts) {
			f.Brakes.Front.PadMm, f.Brakes.Front.BeddedIn, f.Brakes.Front.LookedOn = nil, ptr(false), on
		}},
		"pads bedded in": {entry(pb.CareEntry_PADS_BEDDED_IN, on, front), func(f *pb.BikeFacts) { f.Brakes.Front.BeddedIn = ptr(true) }},
		"disc measured":  {entry(pb.CareEntry_ROTOR_MEASURED, on, thick), func(f *pb.BikeFacts) { f.Brakes.Front.RotorMm = ptr(1.6) }},
		"disc renewed":   {entry(pb.CareEntry_BRAKING_SURFACE_RENEWED, on, front), func(f *pb.BikeFacts) { f.Brakes.Front.RotorMm = nil }},
		"bearing":        {entry(pb.CareEntry_BEARING_SERVICED, on, headset), func(f *pb.BikeFacts) { f.Bearings.Headset.ServicedOn = on }},
		"bearing, none":  {entry(pb.CareEntry_BEARING_SERVICED, on, nil), func(*pb.BikeFacts) {}},
		"tyre renewed": {entry(pb.CareEntry_TYRE_RENEWED, on, func(e *pb.CareEntry) { e.End = pb.End_REAR }), func(f *pb.BikeFacts) {
			f.Tyres.Rear.Tread, f.Tyres.Rear.Cuts, f.Tyres.Rear.LookedOn = pb.Tyre_GOOD, pb.Tyre_NONE, on
		}},
		"tyre looked over": {entry(pb.CareEntry_TYRE_LOOKED_OVER, on, front), func(f *pb.BikeFacts) { f.Tyres.Front.LookedOn = on }},
		"frame waxed":      {entry(pb.CareEntry_FRAME_WAXED, on, nil), func(f *pb.BikeFacts) { f.Frame.WaxedOn = on }},
		"frame protected":  {entry(pb.CareEntry_FRAME_PROTECTED, on, nil), func(*pb.BikeFacts) {}},
		"washed":           {entry(pb.CareEntry_WASHED, on, nil), func(f *pb.BikeFacts) { f.Cleaning.WashedOn = on }},
		"looked over":      {entry(pb.CareEntry_LOOKED_OVER, on, nil), func(f *pb.BikeFacts) { f.Cleaning.LookedOverOn = on }},
		"light charged":    {entry(pb.CareEntry_LIGHT_CHARGED, on, front), func(f *pb.BikeFacts) { f.Lights[0].ChargedOn = on }},
		"odometer read": {entry(pb.CareEntry_WASHED, on, func(e *pb.CareEntry) { e.OdometerKm = ptr(4321.0) }), func(f *pb.BikeFacts) {
			f.Cleaning.WashedOn, f.OdometerKm = on, ptr(4321.0)
		}},
		"guard fitted":            {entry(pb.CareEntry_GUARD_FITTED, on, front), func(*pb.BikeFacts) {}},
		"contact renewed":         {entry(pb.CareEntry_CONTACT_RENEWED, on, nil), func(*pb.BikeFacts) {}},
		"work not known":          {entry(99, on, nil), func(*pb.BikeFacts) {}},
		"day that is none":        {entry(pb.CareEntry_WASHED, "2026-12-05", func(e *pb.CareEntry) { e.DoneOn = "2026-12-0" }), func(*pb.BikeFacts) {}},
		"recorded later than now": {entry(pb.CareEntry_WASHED, on, func(e *pb.CareEntry) { e.RecordedAt = timestamppb.New(evening.Add(1)) }), func(*pb.BikeFacts) {}},
	} {
		t.Run(name, func(t *testing.T) {
			bike := readiness.Subject{Care: []*pb.CareEntry{c.entry}, Declaration: &pb.Declaration{
				Facts: wholeBike(t), CertifiedAt: timestamppb.New(time.Date(2026, 12, 1, 12, 0, 0, 0, time.UTC))}}
			want := wholeBike(t)
			c.want(want)
			if got := readiness.Effective(bike, evening); !proto.Equal(got, want) {
				t.Errorf("got  %v\nwant %v", got, want)
			}
			if !proto.Equal(bike.Declaration.Facts, wholeBike(t)) {
				t.Error("the declaration was changed")
			}
		})
	}
}

// TestEffectiveOfNothing: without a declaration the log alone counts; without either there is nothing.
func TestEffectiveOfNothing(t *testing.T) {
	if got := readiness.Effective(readiness.Subject{}, evening); got != nil {
		t.Errorf("%v", got)
	}
	washed := readiness.Subject{Care: []*pb.CareEntry{entry(pb.CareEntry_WASHED, "2026-12-05", nil)}}
	if got := readiness.Effective(washed, evening).GetCleaning().GetWashedOn(); got != "2026-12-05" {
		t.Errorf("washed %q", got)
	}
}

// TestEffectiveDaysAreCivil: whether work was done after certifying is told by the club's calendar. At 23:30 on 5 December
// UTC it is 6 December in Berlin.
func TestEffectiveDaysAreCivil(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	late := time.Date(2026, 12, 5, 23, 30, 0, 0, time.UTC)
	bike := readiness.Subject{Declaration: &pb.Declaration{CertifiedAt: timestamppb.New(late), Facts: &pb.BikeFacts{Cleaning: &pb.Cleaning{WashedOn: "2026-12-01"}}}, Care: []*pb.CareEntry{
		entry(pb.CareEntry_WASHED, "2026-12-06", func(e *pb.CareEntry) { e.RecordedAt = timestamppb.New(late.Add(-time.Minute)) })}}
	for zone, want := range map[*time.Location]string{time.UTC: "2026-12-06", berlin: "2026-12-01"} {
		if got := readiness.Effective(bike, evening.In(zone)).GetCleaning().GetWashedOn(); got != want {
			t.Errorf("in %s: washed %q, want %q", zone, got, want)
		}
	}
}

// TestOrderOfLogDoesNotMatter: entries count by their own days, in whatever order they come.
func TestOrderOfLogDoesNotMatter(t *testing.T) {
	whole := wholeBike(t)
	rapid.Check(t, func(t *rapid.T) {
		bike := drawBike(t, whole)
		for i, e := range bike.Care { // of entries of one day and one moment the order is the log's
			e.RecordedAt = timestamppb.New(evening.Add(-time.Duration(i) * time.Minute))
		}
		want := readiness.Effective(bike, evening)
		slices.Reverse(bike.Care)
		if got := readiness.Effective(bike, evening); !proto.Equal(got, want) {
			t.Fatalf("got  %v\nwant %v", got, want)
		}
	})
}
