package care_test

import (
	"math"
	"strings"
	"testing"

	"gritward/internal/care"
	pb "gritward/proto/gritward/v1"
)

func odo(km float64) func(*pb.CareEntry) { return func(e *pb.CareEntry) { e.OdometerKm = &km } }

// TestOdometer: by hand. The chain of measuredChain wears 0.2 % over 1,000 km of club rides; with the odometer, twice that
// was ridden, so that it wears 0.1 % for 1,000 km and 4,500 km are left from 0.3 to 0.75 %.
func TestOdometer(t *testing.T) {
	with := func(a, b, c *float64, more ...*pb.CareEntry) []*pb.CareEntry {
		log := measuredChain()
		for i, km := range []*float64{a, b, c} {
			log[i].OdometerKm = km
		}
		return append(log, more...)
	}
	for name, c := range map[string]struct {
		log      []*pb.CareEntry
		distance pb.WearProjection_Distance
		rate     float64 // % for 1,000 km
		left     float64 // km
		says     string
	}{
		"none":            {with(nil, nil, nil), pb.WearProjection_CLUB_RIDES, 0.2, 2200, "over 1000 km of club rides ridden home"},
		"all":             {with(ptr(3000.0), ptr(4000.0), ptr(5000.0)), pb.WearProjection_ODOMETER, 0.1, 4450, "over 2000 km by the odometer"},
		"first and last":  {with(ptr(3000.0), nil, ptr(5000.0)), pb.WearProjection_CLUB_RIDES, 0.2, 2200, "over 1000 km of club rides ridden home"},
		"not the first":   {with(nil, ptr(4000.0), ptr(4500.0)), pb.WearProjection_ODOMETER_AND_CLUB_RIDES, 0.2, 2200, "over 1000 km by the odometer or, where a reading has none, of club rides ridden home"},
		"runs backwards":  {with(ptr(5000.0), ptr(4000.0), ptr(3000.0)), pb.WearProjection_CLUB_RIDES, 0.2, 2200, "club rides"},
		"less than rides": {with(ptr(3000.0), ptr(3400.0), ptr(3800.0)), pb.WearProjection_CLUB_RIDES, 0.2, 2200, "club rides"},
		"read since": {with(ptr(3000.0), ptr(4000.0), ptr(5000.0), entry(0, pb.CareEntry_WASHED, odo(5300))), pb.WearProjection_ODOMETER, 0.1, 4200,
			"With 300 km ridden since"},
		"of another entry of the day": {with(ptr(3000.0), ptr(4000.0), nil, entry(2, pb.CareEntry_WASHED, odo(5000))), pb.WearProjection_ODOMETER, 0.1, 4450,
			"as in the last 12 weeks by the odometer"},
	} {
		t.Run(name, func(t *testing.T) {
			items := due(t, care.Input{Bike: bike(tenSpeed()), Care: c.log, Rides: rides(30, 50), Book: book(wearRule())})
			if len(items) != 1 {
				t.Fatalf("%v", items)
			}
			one := items[0]
			p := one.GetProjection()
			if p.GetDistance() != c.distance || math.Abs(p.GetDryPer_1000Km()-c.rate) > 1e-9 || math.Abs(one.GetDueInKm()-c.left) > 1e-6 ||
				!strings.Contains(one.GetWhy(), c.says) {
				t.Errorf("%v", one)
			}
		})
	}
}

// TestHabit: by the odometer 1,000 km in 70 days are 100 km a week, the club's rides are 50; the limit comes sooner.
func TestHabit(t *testing.T) {
	log := measuredChain()
	for i, km := range []float64{3000, 4000, 5000} {
		log[i].OdometerKm = &km
	}
	items := due(t, care.Input{Bike: bike(tenSpeed()), Care: log, Rides: rides(30, 50), Book: book(wearRule())})
	if want := "45 weeks at 100 km a week, as in the last 12 weeks by the odometer."; !strings.Contains(items[0].GetWhy(), want) {
		t.Errorf("%s", items[0].GetWhy())
	}
}

// TestLacks: why nothing can be told yet, each for itself.
func TestLacks(t *testing.T) {
	near := []*pb.CareEntry{entry(20, pb.CareEntry_CHAIN_MEASURED, pct(0.1)), entry(10, pb.CareEntry_CHAIN_MEASURED, pct(0.2)), entry(2, pb.CareEntry_CHAIN_MEASURED, pct(0.3))}
	flat := measuredChain()
	for _, one := range flat {
		one.WearPct = ptr(0.3)
	}
	for name, c := range map[string]struct {
		log  []*pb.CareEntry
		want string
	}{
		"one reading":    {measuredChain()[2:], "it takes 3 readings with rides between them since the last renewal, and there is 1."},
		"too near":       {near, "it takes readings that span 200 km, and these span 100 km of club rides ridden home."},
		"no wear seen":   {flat, "between the readings there is no more wear than a reading may be off (0.05 %)."},
		"none at a time": {append(measuredChain()[2:], entry(2, pb.CareEntry_CHAIN_MEASURED, pct(0.31))), "since the last renewal, and there is 1."},
	} {
		t.Run(name, func(t *testing.T) {
			items := due(t, care.Input{Bike: bike(tenSpeed()), Care: c.log, Rides: rides(30, 50), Book: book(wearRule())})
			if len(items) != 1 || !strings.Contains(items[0].GetWhy(), "How far that will go cannot be told yet: ") || !strings.HasSuffix(items[0].GetWhy(), c.want) {
				t.Errorf("%v", items)
			}
		})
	}
}
