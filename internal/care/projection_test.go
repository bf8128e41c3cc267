package care_test

import (
	"math"
	"testing"

	"gritward/internal/care"
	pb "gritward/proto/gritward/v1"
)

// wearRule asks for less than 0.75 % up to ten sprockets and less than 0.5 % from eleven.
func wearRule() *pb.Rule {
	return chainRule(&pb.ChainNeed{Wear: []*pb.ChainWearLimit{{SpeedsFrom: 11, Pct: 0.5}, {SpeedsFrom: 1, Pct: 0.75}}})
}

func tenSpeed() *pb.BikeFacts { return &pb.BikeFacts{Chain: &pb.Chain{Speeds: ptr(int32(10))}} }

// measuredChain was measured at 0.1, 0.2 and 0.3 %, 500 km apart by 50 km a week, the last time a day before the ride of
// yesterday.
func measuredChain() []*pb.CareEntry {
	return []*pb.CareEntry{
		entry(142, pb.CareEntry_CHAIN_MEASURED, pct(0.1)), entry(72, pb.CareEntry_CHAIN_MEASURED, pct(0.2)),
		entry(2, pb.CareEntry_CHAIN_MEASURED, pct(0.3)),
	}
}

// TestProjection: by hand, 0.2 % for 1,000 km leave 2,250 km from 0.3 to 0.75 %; 50 km of them are ridden.
func TestProjection(t *testing.T) {
	in := care.Input{Bike: bike(tenSpeed()), Care: measuredChain(), Rides: rides(30, 50), Book: book(wearRule()), DaysAhead: 28}
	items := due(t, in)
	if len(items) != 1 {
		t.Fatalf("%v", items)
	}
	one := items[0]
	same(t, brief(items), []string{"LATER  Renew the chain at 0.75 %: have new ones ready."})
	p := one.GetProjection()
	if p.GetBasis() != pb.WearProjection_ONE_RATE || p.GetReadings() != 3 || p.GetNewest() != 0.3 || p.GetLimit() != 0.75 ||
		p.WetPer_1000Km != nil || p.GetPart() != pb.CareEntry_CHAIN_MEASURED || p.GetEnd() != 0 {
		t.Errorf("%v", p)
	}
	for name, c := range map[string][2]float64{
		"middle": {p.GetKmMiddle(), 2250}, "low": {p.GetKmLow(), 1600}, "high": {p.GetKmHigh(), 0.5 / 0.15 * 1000},
		"rate": {p.GetDryPer_1000Km(), 0.2}, "left": {one.GetDueInKm(), 2200},
	} {
		if math.Abs(c[0]-c[1]) > 1e-6 {
			t.Errorf("%s: %v, want %v", name, c[0], c[1])
		}
	}
	want := "The chain was at 0.3 % when last measured; the limit is 0.75 %. By 3 readings over 1000 km of club rides ridden home, wear is about 0.2 % for 1,000 km. " +
		"The limit comes about 2250 km after that reading, hardly before 1600 km and likely before 3330 km. " +
		"With 50 km ridden since, about 2200 km are left: 44 weeks at 50 km a week, as in the last 12 weeks. " +
		"Reckoned from readings, this does not replace measuring."
	if one.GetWhy() != want {
		t.Errorf("got  %s\nwant %s", one.GetWhy(), want)
	}
	in.DaysAhead = 7 * 31 // 31 weeks of 50 km are the 1,550 km that are left before the nearest that is likely
	if got := due(t, in)[0].GetUrgency(); got != pb.DueItem_SOON {
		t.Errorf("%v", got)
	}
	in.DaysAhead--
	if got := due(t, in)[0].GetUrgency(); got != pb.DueItem_LATER {
		t.Errorf("%v", got)
	}
}

// TestReadings: which readings count.
func TestReadings(t *testing.T) {
	declared := tenSpeed()
	declared.Chain.WearPct, declared.Chain.MeasuredOn = ptr(0.05), ago(177)
	struck := entry(1, pb.CareEntry_STRUCK_OUT)
	struck.Strikes = measuredChain()[1].Name
	unstruck := entry(0, pb.CareEntry_STRUCK_OUT)
	unstruck.Strikes = struck.Name
	late := entry(3, pb.CareEntry_CHAIN_MEASURED, pct(0.1))
	late.RecordedAt = entry(-1, 0).RecordedAt
	for name, c := range map[string]struct {
		facts    *pb.BikeFacts
		more     []*pb.CareEntry
		readings int32
	}{
		"all":                          {tenSpeed(), nil, 3},
		"declared too":                 {declared, nil, 4},
		"declared and logged alike":    {declared, []*pb.CareEntry{entry(177, pb.CareEntry_CHAIN_MEASURED, pct(0.05))}, 4},
		"renewed":                      {declared, []*pb.CareEntry{entry(100, pb.CareEntry_CHAIN_RENEWED)}, 2},
		"renewed on the day, before":   {tenSpeed(), []*pb.CareEntry{entry(72, pb.CareEntry_CHAIN_RENEWED, early)}, 2},
		"renewed on the day, after":    {tenSpeed(), []*pb.CareEntry{entry(72, pb.CareEntry_CHAIN_RENEWED, lateIn)}, 1},
		"renewed and measured at once": {tenSpeed(), []*pb.CareEntry{entry(100, pb.CareEntry_CHAIN_RENEWED, pct(0.02))}, 3},
		"one struck out":               {tenSpeed(), []*pb.CareEntry{struck}, 2},
		"and that struck out":          {tenSpeed(), []*pb.CareEntry{struck, unstruck}, 3},
		"not recorded yet":             {tenSpeed(), []*pb.CareEntry{late}, 3},
		"of something else":            {tenSpeed(), []*pb.CareEntry{entry(50, pb.CareEntry_PADS_MEASURED, mm(pb.End_REAR, 1))}, 3},
	} {
		t.Run(name, func(t *testing.T) {
			in := care.Input{Bike: bike(c.facts), Care: append(measuredChain(), c.more...), Rides: rides(30, 50), Book: book(wearRule())}
			items := due(t, in)
			if len(items) != 1 || items[0].GetProjection().GetReadings() != c.readings {
				t.Errorf("%v", items)
			}
		})
	}
}

func early(e *pb.CareEntry)  { e.RecordedAt.Seconds -= 60 }
func lateIn(e *pb.CareEntry) { e.RecordedAt.Seconds += 60 }

// TestNotEnough: sooner than guess, it asks for another reading.
func TestNotEnough(t *testing.T) {
	items := due(t, care.Input{Bike: bike(tenSpeed()), Care: measuredChain()[1:], Rides: rides(30, 50), Book: book(wearRule())})
	same(t, brief(items), []string{"LATER  Measure the chain again after 200 km or more, and record it in the care log."})
	p := items[0].GetProjection()
	want := "The chain was at 0.3 % when last measured; the limit is 0.75 %. How far that will go cannot be told yet: " +
		"it takes 3 readings with rides between them since the last renewal, and there are 2."
	if p.GetBasis() != pb.WearProjection_NOT_ENOUGH_READINGS || p.KmHigh != nil || items[0].DueInKm != nil || items[0].GetWhy() != want {
		t.Errorf("%v", items[0])
	}
	// No readings, or no limit: nothing to say.
	for _, in := range []care.Input{
		{Bike: bike(tenSpeed()), Care: measuredChain(), Book: book(chainRule(&pb.ChainNeed{Lubricant: []pb.Chain_Lubricant{pb.Chain_WET}}))},
		{Bike: bike(tenSpeed()), Book: book()},
	} {
		for _, one := range due(t, in) {
			if one.Projection != nil {
				t.Errorf("%v", one)
			}
		}
	}
}

// TestLimits: the limit is the one that the policy has for this bike, and the strictest of several rules.
func TestLimits(t *testing.T) {
	strict, summer := chainRule(&pb.ChainNeed{Wear: []*pb.ChainWearLimit{{SpeedsFrom: 1, Pct: 0.4}}}), wearRule()
	strict.Id, strict.When = "strict", []pb.Circumstance{pb.Circumstance_SEASON}
	summer.Id, summer.When, summer.Need = "wet", []pb.Circumstance{pb.Circumstance_WET}, &pb.Rule_Chain{Chain: &pb.ChainNeed{Wear: []*pb.ChainWearLimit{{SpeedsFrom: 1, Pct: 0.35}}}}
	eleven, unknown := tenSpeed(), tenSpeed()
	eleven.Chain.Speeds, unknown.Chain.Speeds = ptr(int32(11)), nil
	for name, c := range map[string]struct {
		facts *pb.BikeFacts
		rules []*pb.Rule
		rule  string
		limit float64
	}{
		"ten sprockets":       {tenSpeed(), []*pb.Rule{wearRule()}, "chain", 0.75},
		"eleven":              {eleven, []*pb.Rule{wearRule()}, "chain", 0.5},
		"not declared":        {unknown, []*pb.Rule{wearRule()}, "chain", 0.5},
		"stricter rule":       {tenSpeed(), []*pb.Rule{wearRule(), strict}, "strict", 0.4},
		"in the wet only":     {tenSpeed(), []*pb.Rule{wearRule(), summer}, "chain", 0.75},
		"rule with much else": {tenSpeed(), []*pb.Rule{chainRule(&pb.ChainNeed{Wear: wearRule().GetChain().Wear, MeasuredWithin: days(60), Lubricant: []pb.Chain_Lubricant{pb.Chain_WET}})}, "chain", 0.75},
	} {
		t.Run(name, func(t *testing.T) {
			found := 0
			for _, one := range due(t, care.Input{Bike: bike(c.facts), Care: measuredChain(), Rides: rides(30, 50), Book: book(c.rules...)}) {
				if p := one.GetProjection(); p != nil {
					found++
					if p.GetLimit() != c.limit || one.GetRule() != c.rule {
						t.Errorf("%v", one)
					}
				}
			}
			if found != 1 {
				t.Errorf("%d projections", found)
			}
		})
	}
}

// TestPads: each end for itself, by its kind of brake; the front ones worn beyond the limit, with the work that is overdue.
func TestPads(t *testing.T) {
	facts := &pb.BikeFacts{Brakes: &pb.Brakes{Front: &pb.Brake{Kind: pb.Brake_DISC}, Rear: &pb.Brake{Kind: pb.Brake_RIM}}}
	log := []*pb.CareEntry{
		entry(142, pb.CareEntry_PADS_MEASURED, mm(pb.End_FRONT, 2.4)), entry(142, pb.CareEntry_PADS_MEASURED, mm(pb.End_REAR, 7)),
		entry(72, pb.CareEntry_PADS_MEASURED, mm(pb.End_FRONT, 1.4)), entry(72, pb.CareEntry_PADS_MEASURED, mm(pb.End_REAR, 6)),
		entry(0, pb.CareEntry_PADS_MEASURED, mm(pb.End_FRONT, 0.4)), entry(0, pb.CareEntry_PADS_MEASURED, mm(pb.End_REAR, 5)),
	}
	in := care.Input{Bike: bike(facts), Care: log, Rides: rides(30, 50), Book: book(brakesRule(&pb.BrakesNeed{DiscPadMm: ptr(0.5), RimPadMm: ptr(1.0)}))}
	items := due(t, in)
	if len(items) != 2 {
		t.Fatalf("%v", items)
	}
	front, rear := items[0], items[1]
	if p := front.GetProjection(); front.GetUrgency() != pb.DueItem_OVERDUE || front.GetDueOn() != ago(0) || p.GetLimit() != 0.5 || p.GetEnd() != pb.End_FRONT || p.GetKmMiddle() != 0 {
		t.Errorf("%v", front)
	}
	if p := rear.GetProjection(); rear.GetUrgency() != pb.DueItem_LATER || p.GetLimit() != 1 || p.GetEnd() != pb.End_REAR || p.GetPart() != pb.CareEntry_PADS_MEASURED {
		t.Errorf("%v", rear)
	}
	in.Care = append(in.Care, entry(0, pb.CareEntry_PADS_RENEWED, mm(pb.End_FRONT, 3), lateIn))
	if items = due(t, in); len(items) != 2 || items[0].GetUrgency() == pb.DueItem_OVERDUE {
		t.Errorf("after renewing: %v", items)
	}
	in.Care[4].ThicknessMm, in.Care = ptr(0.5), in.Care[:6] // at the limit: the rule is met, and the pads are to be renewed
	if items = due(t, in); len(items) != 2 || items[0].GetUrgency() != pb.DueItem_OVERDUE || items[0].GetWhat() != "Renew the front pads." {
		t.Errorf("at the limit: %v", items)
	}
}

// TestWetRoads: wet and dry are told apart by the rides between readings.
func TestWetRoads(t *testing.T) {
	var log []*pb.CareEntry
	var ridden []care.Ridden
	worn := 0.0
	for i := range 9 { // by turns 400 km in the dry and 400 km in the wet, which wears twice as fast
		log = append(log, entry(300-30*i, pb.CareEntry_CHAIN_MEASURED, pct(worn)))
		wet := i%2 == 0
		ridden = append(ridden, care.Ridden{On: ago(290 - 30*i), Km: 400, Wet: wet})
		if worn += 0.04; wet {
			worn += 0.04
		}
	}
	for _, one := range due(t, care.Input{Bike: bike(tenSpeed()), Care: log, Rides: ridden, Book: book(wearRule())}) {
		p := one.GetProjection()
		if p.GetBasis() != pb.WearProjection_WET_AND_DRY || math.Abs(p.GetDryPer_1000Km()-0.1) > 1e-9 || math.Abs(p.GetWetPer_1000Km()-0.2) > 1e-9 {
			t.Errorf("%v", one)
		}
	}
}

// TestRideOnTheDay: a reading on the day of a ride is taken to be made after it: 500 and 500 km lie between the readings,
// and nothing was ridden since.
func TestRideOnTheDay(t *testing.T) {
	ridden := []care.Ridden{{On: ago(142), Km: 300}, {On: ago(72), Km: 500}, {On: ago(2), Km: 500}, {On: ago(-1), Km: 900}}
	items := due(t, care.Input{Bike: bike(tenSpeed()), Care: measuredChain(), Rides: ridden, Book: book(wearRule())})
	if len(items) != 1 || math.Abs(items[0].GetDueInKm()-2250) > 1e-6 || math.Abs(items[0].GetProjection().GetDryPer_1000Km()-0.2) > 1e-9 {
		t.Errorf("%v", items)
	}
}
