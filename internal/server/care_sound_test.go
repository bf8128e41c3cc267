package server_test

import (
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	pb "gritward/proto/gritward/v1"
)

// TestCareRefused records what cannot be, one entry after another on one log; each refusal leaves the log as it was. The
// bike has rim brakes, a hub brake behind, and a rear lamp labelled "seatpost".
func TestCareRefused(t *testing.T) {
	w := newWorld(t)
	people(w)
	facts := bike("blue", 300)
	facts.OdometerKm = proto.Float64(5000)
	facts.Lights[1].Label = "seatpost"
	facts.Brakes.Rear = &pb.Brake{Kind: pb.Brake_HUB}
	facts.Chain = &pb.Chain{Speeds: proto.Int32(10)}
	name := w.declare("ben", facts)
	front, rear := pb.End_FRONT, pb.End_REAR
	chain := func(on string, pct float64, note string) *pb.CareEntry {
		return &pb.CareEntry{Work: pb.CareEntry_CHAIN_MEASURED, DoneOn: on, WearPct: &pct, Note: note}
	}
	pads := func(on string, mm float64) *pb.CareEntry {
		return &pb.CareEntry{Work: pb.CareEntry_PADS_MEASURED, End: front, DoneOn: on, ThicknessMm: &mm}
	}
	odometer := func(on string, km float64) *pb.CareEntry {
		return &pb.CareEntry{Work: pb.CareEntry_WASHED, DoneOn: on, OdometerKm: &km}
	}
	strike := func(number string) *pb.CareEntry {
		return &pb.CareEntry{Work: pb.CareEntry_STRUCK_OUT, Strikes: name + "/care/" + number}
	}
	const backwards = "; an odometer does not run backwards: look at it and at the day again, or strike out the entry that is wrong. " +
		"With a new computer, go on from where the old one was"
	const renewed = "; if the chain was renewed between, record that first, with its day; if the other reading is wrong, strike it out; " +
		"otherwise say in the note why it is so"
	const padsRenewed = "; if the front pads were renewed between, record that first, with its day; if the other reading is wrong, strike it out; " +
		"otherwise say in the note why it is so"
	kept := 0
	for _, c := range []struct {
		entry *pb.CareEntry
		want  string // "": taken; else the field and what is wrong
	}{
		{&pb.CareEntry{Work: pb.CareEntry_LIGHT_CHARGED, End: rear, Label: "seatpost"}, ""}, // 1
		{&pb.CareEntry{Work: pb.CareEntry_LIGHT_CHARGED, End: rear}, ""},                    // 2
		{&pb.CareEntry{Work: pb.CareEntry_LIGHT_CHARGED, End: rear, Label: "helmet"},
			`entry.label: the bike has no rear lamp with that label; those there are "seatpost": take one of them, or leave it out for every rear lamp`},
		{&pb.CareEntry{Work: pb.CareEntry_LIGHT_CHARGED, End: front, Label: "seatpost"},
			"entry.label: the bike has no front lamp with that label; none there has a label: take one of them, or leave it out for every front lamp"},
		{&pb.CareEntry{Work: pb.CareEntry_WASHED, Label: "seatpost"}, "entry.label: goes with a lamp charged, not with this work"},
		{&pb.CareEntry{Work: pb.CareEntry_WASHED, End: rear}, "entry.end: goes with work at one end of the bike; leave it out for this work"},
		{&pb.CareEntry{Work: pb.CareEntry_WASHED, Bearing: pb.CareEntry_HEADSET}, "entry.bearing: goes with a bearing serviced, not with this work"},
		{&pb.CareEntry{Work: pb.CareEntry_WASHED, Strikes: name + "/care/1"}, "entry.strikes: goes with an entry struck out, not with this work"},
		{&pb.CareEntry{Work: pb.CareEntry_ROTOR_MEASURED, End: front, ThicknessMm: proto.Float64(1.7)},
			"entry.work: there is no disc to measure: the bike is declared with a rim brake at the front; look at the end, or declare the bike as it is now"},
		{&pb.CareEntry{Work: pb.CareEntry_PADS_RENEWED, End: rear},
			"entry.work: there is no disc or rim brake: the bike is declared with a brake in the hub at the rear; look at the end, or declare the bike as it is now"},
		{&pb.CareEntry{Work: pb.CareEntry_BRAKING_SURFACE_RENEWED, End: rear},
			"entry.work: there is no disc or rim brake: the bike is declared with a brake in the hub at the rear; look at the end, or declare the bike as it is now"},
		{&pb.CareEntry{Work: pb.CareEntry_BRAKING_SURFACE_RENEWED, End: front}, ""}, // 3
		{&pb.CareEntry{Work: pb.CareEntry_FRAME_WAXED, DoneOn: "2016-12-11"}, ""},   // 4
		{&pb.CareEntry{Work: pb.CareEntry_FRAME_WAXED, DoneOn: "2016-12-10"},
			"entry.done_on: 2016-12-10 is more than 10 years ago; the first day that is taken is 2016-12-11"},
		{&pb.CareEntry{Work: pb.CareEntry_FRAME_WAXED, DoneOn: "2026-12-12"}, "entry.done_on: 2026-12-12 has not come yet; today is 2026-12-11"},
		// The odometer, against the declared 5,000 km of the 11th and the log.
		{odometer("2026-11-01", 4500), ""}, // 5
		{odometer("2026-11-10", 4499), ""}, // 6: written down as whole numbers
		{odometer("2026-11-20", 4400), "entry.odometer_km: 4400 km is less than the 4500 km of 2026-11-01 (entry 5 of the care log)" + backwards},
		{odometer("2026-10-20", 4600), "entry.odometer_km: 4600 km is more than the 4500 km of 2026-11-01 (entry 5 of the care log)" + backwards},
		{odometer("2026-12-10", 5200), "entry.odometer_km: 5200 km is more than the 5000 km of 2026-12-11 (declared)" +
			strings.Replace(backwards, "strike out the entry that is wrong", "declare the bike with the right odometer", 1)},
		{odometer("2026-12-11", 5030), ""}, // 7
		// Wear.
		{chain("2026-11-01", 0.3, ""), ""},  // 8
		{chain("2026-11-20", 0.2, ""), ""},  // 9: two readings may differ so
		{chain("2026-11-20", 0.35, ""), ""}, // 10
		{chain("2026-12-01", 0.24, ""), "entry.wear_pct: 0.24 % is less worn than 0.35 % on 2026-11-20" + renewed},
		{chain("2026-10-15", 0.45, ""), "entry.wear_pct: 0.45 % is more worn than 0.3 % on 2026-11-01" + renewed},
		{chain("2026-12-01", 0.24, "with the other gauge"), ""}, // 11
		{strike("11"), ""}, // 12
		{&pb.CareEntry{Work: pb.CareEntry_CHAIN_RENEWED, DoneOn: "2026-11-25"}, ""}, // 13
		{chain("2026-12-01", 0.0, ""), ""},                                          // 14
		{pads("2026-12-01", 3), "entry.thickness_mm: 3 mm is more worn than 4 mm on 2026-12-11" + padsRenewed},
		{pads("2026-12-11", 4.4), ""}, // 15
		{pads("2026-12-11", 5.0), "entry.thickness_mm: 5 mm is less worn than 4.4 mm on 2026-12-11" + padsRenewed},
		{chain("2026-12-02", 1.2, ""), "entry.wear_pct: 1.2 % would be 1.2 % more worn than 0 % on 2026-12-01; look for a slip of the pen, and measure again | " +
			"measured_again: confirm it, if it measures the same again"},
		{pads("2026-12-11", 0.3), "entry.thickness_mm: 0.3 mm would be 4.1 mm more worn than 4.4 mm on 2026-12-11; look for a slip of the pen, and measure again | " +
			"measured_again: confirm it, if it measures the same again"},
		// Striking out.
		{strike("12"), "entry.strikes: entry 12 only strikes another one out; what was struck out by mistake is recorded anew, with its day"},
		{strike("11"), "entry.strikes: entry 11 is struck out already; nothing was changed"},
		{strike("99"), "there is no " + name + "/care/99"},
		{strike("7"), ""}, // 16: and what it said of the odometer counts for nothing
		{odometer("2026-12-11", 5010), ""},
	} {
		_, err := w.bikes.RecordCare(w.as("ben"), &pb.RecordCareRequest{Parent: name, Entry: c.entry})
		got := told(err)
		switch {
		case c.want == "" && err == nil:
			kept++
		case c.want == "":
			t.Errorf("%v: %s", c.entry, got)
		case strings.HasPrefix(c.want, "there is no"):
			if got != "NotFound | NOT_FOUND | "+c.want {
				t.Errorf("%v: %s", c.entry, got)
			}
		case got != "InvalidArgument | FIELD_INVALID | "+c.want+" | the request is not as it must be":
			t.Errorf("%v:\ngot  %s\nwant %s", c.entry, got, c.want)
		}
	}
	if _, err := w.bikes.RecordCare(w.as("ben"), &pb.RecordCareRequest{Parent: name, Entry: chain("2026-12-02", 1.2, ""), MeasuredAgain: true}); err != nil {
		t.Errorf("measured again: %s", told(err))
	}
	kept++
	log, err := w.bikes.ListCare(w.as("ben"), &pb.ListCareRequest{Parent: name})
	if err != nil || len(log.Entries) != kept {
		t.Errorf("%d entries of %d: %s", len(log.GetEntries()), kept, told(err))
	}
}

// TestCareOfTheUndeclared: of parts that were not declared nothing is known, and the work is taken.
func TestCareOfTheUndeclared(t *testing.T) {
	w := newWorld(t)
	people(w)
	name := w.declare("ben", &pb.BikeFacts{Title: "bare"})
	for _, entry := range []*pb.CareEntry{
		{Work: pb.CareEntry_ROTOR_MEASURED, End: pb.End_FRONT, ThicknessMm: proto.Float64(1.7)},
		{Work: pb.CareEntry_PADS_RENEWED, End: pb.End_REAR},
		{Work: pb.CareEntry_WASHED, OdometerKm: proto.Float64(0)},
	} {
		if _, err := w.bikes.RecordCare(w.as("ben"), &pb.RecordCareRequest{Parent: name, Entry: entry}); err != nil {
			t.Errorf("%v: %s", entry, told(err))
		}
	}
}
