package care_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/care"
	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

const (
	measure   = "Measure the chain over twelve inches, at several places and not over the joining link."
	lubricate = "Lubricate the chain thinly, a drop to each roller, let it soak in, and wipe off what is left."
)

// TestByDate: a chain to be measured every 60 days, 28 days looked ahead.
func TestByDate(t *testing.T) {
	for name, c := range map[string]struct {
		measuredAgo int
		want        string
	}{
		"just done":        {0, "LATER 2027-01-21 " + measure},
		"a day beyond":     {32, "LATER 2026-12-20 " + measure},
		"as far as looked": {33, "SOON 2026-12-19 " + measure},
		"the last day":     {60, "SOON 2026-11-22 " + measure},
		"since today":      {61, "OVERDUE 2026-11-21 " + measure},
		"for ten days":     {70, "OVERDUE 2026-11-12 " + measure},
	} {
		t.Run(name, func(t *testing.T) {
			facts := &pb.BikeFacts{Chain: &pb.Chain{MeasuredOn: ago(c.measuredAgo)}}
			items := due(t, care.Input{Bike: bike(facts), Book: book(chainRule(&pb.ChainNeed{MeasuredWithin: days(60)})), DaysAhead: 28})
			same(t, brief(items), []string{c.want})
			if one := items[0]; one.GetBike() != "bike" || one.GetRule() != "chain" || one.GetCheck() != pb.Check_CHAIN || one.DueInKm != nil {
				t.Errorf("%v", one)
			}
		})
	}
}

// asked is how the check itself says what a rule needs and what there is; without a ride there is no start.
func asked(t *testing.T, in care.Input) string {
	t.Helper()
	group, _ := plan(now)
	subject := readiness.Subject{Declaration: in.Bike.GetDeclaration(), Care: in.Care}
	for _, f := range readiness.Assess(in.Book, subject, group, now).GetFindings() {
		return fmt.Sprintf("Rule %s needs: %s; declared: %s", f.GetRule(),
			strings.ReplaceAll(f.GetNeeded(), "before the start", "before a ride"), strings.ReplaceAll(strings.ReplaceAll(f.GetDeclared(), "before the start", "ago"), ", 0 days ago", ", today"))
	}
	t.Fatal("nothing is asked")
	return ""
}

// TestWhy: the reasons, in full.
func TestWhy(t *testing.T) {
	b := book(chainRule(&pb.ChainNeed{MeasuredWithin: days(60)}))
	for name, c := range map[string]struct {
		facts *pb.BikeFacts
		care  []*pb.CareEntry
		after string
	}{
		"overdue": {
			&pb.BikeFacts{Chain: &pb.Chain{MeasuredOn: ago(70)}}, nil,
			". Not met since 12 November 2026. Until then the bike rides at the back of its group. It matters.",
		},
		"not declared": {&pb.BikeFacts{}, nil, ". Until then the bike rides at the back of its group. It matters."},
		"ahead": {
			&pb.BikeFacts{}, []*pb.CareEntry{entry(0, pb.CareEntry_CHAIN_MEASURED, pct(0.2))},
			". That is enough up to 20 January 2027. After that the bike rides at the back of its group until it is done. It matters.",
		},
		"today": {
			&pb.BikeFacts{Chain: &pb.Chain{MeasuredOn: ago(60)}}, nil,
			". That is enough up to 21 November 2026. After that the bike rides at the back of its group until it is done. It matters.",
		},
	} {
		t.Run(name, func(t *testing.T) {
			in := care.Input{Bike: bike(c.facts), Care: c.care, Book: b}
			items := due(t, in)
			if len(items) != 1 || items[0].GetWhy() != asked(t, in)+c.after {
				t.Errorf("%v", items)
			}
		})
	}
}

// TestFirstDeclared: of a bike first declared today nothing is overdue since a day on which nobody had declared it.
func TestFirstDeclared(t *testing.T) {
	facts := &pb.BikeFacts{Chain: &pb.Chain{MeasuredOn: ago(70)}}
	const first = ". Not met when the bike was first declared, on %s: before then there is no record. Until then the bike rides at the back of its group. It matters."
	for name, c := range map[string]struct {
		createdAgo  int
		revision    int32
		dueOn, last string
	}{
		"today":            {0, 1, "", fmt.Sprintf(first, "21 November 2026")},
		"while it was due": {4, 1, "", fmt.Sprintf(first, "17 November 2026")},
		"before it was":    {30, 1, "2026-11-12", ". Not met since 12 November 2026. Until then the bike rides at the back of its group. It matters."},
		"otherwise, since": {4, 2, "", ", 70 days ago. Until then the bike rides at the back of its group. It matters."},
	} {
		t.Run(name, func(t *testing.T) {
			in := care.Input{Bike: bike(facts), Book: book(chainRule(&pb.ChainNeed{MeasuredWithin: days(60)}))}
			in.Bike.CreatedAt = timestamppb.New(now.AddDate(0, 0, -c.createdAgo).Add(-time.Hour))
			in.Bike.Declaration.Revision = c.revision
			items := due(t, in)
			if len(items) != 1 || items[0].GetUrgency() != pb.DueItem_OVERDUE || items[0].GetDueOn() != c.dueOn || !strings.HasSuffix(items[0].GetWhy(), c.last) {
				t.Errorf("%v", items)
			}
		})
	}
}

// TestTakenApart: each time limit of a rule has an item of its own, and so has each bearing.
func TestTakenApart(t *testing.T) {
	facts := &pb.BikeFacts{Chain: &pb.Chain{MeasuredOn: ago(10), LubricatedOn: ago(20), Lubricant: pb.Chain_DRY}}
	need := &pb.ChainNeed{MeasuredWithin: days(60), LubricatedWithin: days(14), Lubricant: []pb.Chain_Lubricant{pb.Chain_WET}}
	same(t, brief(due(t, care.Input{Bike: bike(facts), Book: book(chainRule(need)), DaysAhead: 60})), []string{
		"OVERDUE 2026-11-16 " + lubricate,
		"OVERDUE  Degrease the chain, rinse it and let it dry; then lubricate it with wet-weather lubricant, thinly, and wipe off what is left. " +
			"Keep degreaser away from brakes and bearings.",
		"SOON 2027-01-11 " + measure,
	})
	bearings := rule("bearings", pb.Check_BEARINGS)
	bearings.Need = &pb.Rule_Bearings{Bearings: &pb.BearingsNeed{
		Which: []pb.CareEntry_Place{pb.CareEntry_HEADSET, pb.CareEntry_PEDALS}, ServicedWithin: days(365),
	}}
	facts = &pb.BikeFacts{Bearings: &pb.Bearings{Headset: &pb.Bearing{ServicedOn: ago(100)}, Pedals: &pb.Bearing{ServicedOn: ago(300)}}}
	same(t, brief(due(t, care.Input{Bike: bike(facts), Book: book(bearings)})), []string{
		"LATER 2027-01-26 Strip and grease the pedals; sealed bearings are renewed instead.",
		"LATER 2027-08-14 Strip and grease the headset; sealed bearings are renewed instead.",
	})
}

// TestByWetRide: a wet ride makes the bike due for washing and looking over; doing so ends it.
func TestByWetRide(t *testing.T) {
	in := care.Input{Bike: bike(&pb.BikeFacts{}), Book: book(cleanRule(&pb.CleanNeed{SinceWetRide: true}))}
	washed := []*pb.CareEntry{entry(9, pb.CareEntry_WASHED), entry(9, pb.CareEntry_LOOKED_OVER)}
	in.Bike.Declaration.CertifiedAt = timestamppb.New(now.AddDate(0, 0, -20))
	for name, c := range map[string]struct {
		rides []care.Ridden
		due   int
		on    string
	}{
		"none":              {nil, 0, ""},
		"dry since":         {[]care.Ridden{{On: ago(12), Km: 60, Wet: true}, {On: ago(5), Km: 60}}, 0, ""},
		"wet on the day":    {[]care.Ridden{{On: ago(9), Km: 60, Wet: true}}, 0, ""},
		"wet since":         {[]care.Ridden{{On: ago(5), Km: 60, Wet: true}, {On: ago(12), Km: 60, Wet: true}}, 1, ago(5)},
		"wet in the future": {[]care.Ridden{{On: ago(-3), Km: 60, Wet: true}}, 0, ""},
	} {
		t.Run(name, func(t *testing.T) {
			in.Care, in.Rides = washed, c.rides
			items := due(t, in)
			if len(items) != c.due || c.due > 0 && (items[0].GetUrgency() != pb.DueItem_OVERDUE || items[0].GetDueOn() != c.on) {
				t.Errorf("%v", items)
			}
		})
	}
}

// TestDeclaration: a declaration that stops counting in the course of a day is due on it.
func TestDeclaration(t *testing.T) {
	const again = "Look the bike over and certify it again."
	b := bike(&pb.BikeFacts{})
	for name, c := range map[string]struct {
		age  time.Duration
		want string
	}{
		"new":             {0, "SOON 2026-12-19 " + again},
		"until tonight":   {28*24*time.Hour - 2*time.Hour, "SOON 2026-11-21 " + again},
		"since this noon": {28*24*time.Hour + 6*time.Hour, "OVERDUE 2026-11-21 " + again},
		"since yesterday": {29*24*time.Hour + 6*time.Hour, "OVERDUE 2026-11-20 " + again},
	} {
		t.Run(name, func(t *testing.T) {
			b.Declaration.CertifiedAt = timestamppb.New(now.Add(-c.age))
			same(t, brief(due(t, care.Input{Bike: b, Book: book(rule("declaration", pb.Check_DECLARATION)), DaysAhead: 28})), []string{c.want})
		})
	}
}

// TestSeason: what is asked in season only is due on its first day, and not overdue in summer.
func TestSeason(t *testing.T) {
	guards := rule("guards", pb.Check_GUARDS)
	guards.When = []pb.Circumstance{pb.Circumstance_SEASON}
	guards.Need = &pb.Rule_Guards{Guards: &pb.GuardsNeed{Rear: pb.GuardsNeed_ANY}}
	in := care.Input{Bike: bike(&pb.BikeFacts{Guards: &pb.Guards{Rear: &pb.Guard{Kind: pb.Guard_NONE}}}), Book: book(guards), Plan: plan}
	for name, c := range map[string]struct {
		at   time.Time
		want string
	}{
		"in season":   {now, "OVERDUE 2026-10-01"},
		"in summer":   {time.Date(2026, time.July, 1, 12, 0, 0, 0, time.UTC), "LATER 2026-10-01"},
		"just before": {time.Date(2026, time.September, 30, 12, 0, 0, 0, time.UTC), "SOON 2026-10-01"},
	} {
		t.Run(name, func(t *testing.T) {
			in.At, in.DaysAhead = c.at, 1
			items, err := care.Due(in)
			if err != nil || len(items) != 1 || items[0].GetUrgency().String()+" "+items[0].GetDueOn() != c.want {
				t.Errorf("%v %v", items, err)
			}
		})
	}
}

// TestOrder: what holds, what sends to the back, advice; of each overdue first, then by day, no day last; whatever the order
// of the rules.
func TestOrder(t *testing.T) {
	chainBy := func(id string, otherwise pb.Rule_Consequence, need *pb.ChainNeed) *pb.Rule {
		r := chainRule(need)
		r.Id, r.Otherwise = id, otherwise
		return r
	}
	clean := cleanRule(&pb.CleanNeed{SinceWetRide: true})
	damage := rule("damage", pb.Check_FRAME)
	damage.Otherwise, damage.Need = pb.Rule_HOLD, &pb.Rule_Frame{Frame: &pb.FrameNeed{NoOpenDamage: true}}
	facts := &pb.BikeFacts{Chain: &pb.Chain{MeasuredOn: ago(100), LubricatedOn: ago(50), CleanedOn: ago(10)}}
	in := care.Input{Bike: bike(facts), Rides: rides(1, 60), DaysAhead: 28, Book: book(
		chainBy("advice", pb.Rule_ADVISE, &pb.ChainNeed{MeasuredWithin: days(60)}),
		clean,
		chainBy("soon", pb.Rule_HOLD, &pb.ChainNeed{CleanedWithin: days(20)}),
		damage,
		chainBy("dated", pb.Rule_HOLD, &pb.ChainNeed{LubricatedWithin: days(14)}),
	)}
	in.Rides[0].Wet = true
	var got []string
	for _, one := range due(t, in) {
		got = append(got, fmt.Sprintf("%s %v %v %v", one.GetRule(), one.GetStanding(), one.GetUrgency(), one.GetCause()))
	}
	same(t, got, []string{
		"dated HELD OVERDUE DATE", "damage HELD OVERDUE NOT_DECLARED", "soon HELD SOON DATE", "clean BACK OVERDUE NOT_DECLARED",
		"advice ADVISED OVERDUE DATE",
	})
	in.Care = []*pb.CareEntry{entry(9, pb.CareEntry_WASHED), entry(9, pb.CareEntry_LOOKED_OVER)}
	for _, one := range due(t, in) {
		if one.GetRule() == "clean" && (one.GetCause() != pb.DueItem_WET_RIDE || one.GetDueOn() != ago(1)) {
			t.Errorf("%v", one)
		}
	}
}

// TestTwoRulesOneWork: work that two rules ask for is told once, by the one that is more pressing.
func TestTwoRulesOneWork(t *testing.T) {
	strict, mild := chainRule(&pb.ChainNeed{MeasuredWithin: days(90)}), chainRule(&pb.ChainNeed{MeasuredWithin: days(60)})
	strict.Id, strict.Otherwise, mild.Id, mild.Otherwise = "strict", pb.Rule_HOLD, "mild", pb.Rule_ADVISE
	in := care.Input{Bike: bike(&pb.BikeFacts{Chain: &pb.Chain{MeasuredOn: ago(100)}}), Book: book(mild, strict)}
	items := due(t, in)
	same(t, brief(items), []string{"OVERDUE 2026-11-12 " + measure})
	in.Book = book(strict)
	want := asked(t, in) + ". Not met since 12 November 2026. Until then the bike is held. It matters. Rule mild asks for it too."
	if len(items) != 1 || items[0].GetWhy() != want {
		t.Errorf("%v", items)
	}
}

// TestOneWorkOfAllBearings: work that a rule asks for of several parts in the same words is told once.
func TestOneWorkOfAllBearings(t *testing.T) {
	one, two := rule("one", pb.Check_BEARINGS), rule("two", pb.Check_BEARINGS)
	one.Need = &pb.Rule_Bearings{Bearings: &pb.BearingsNeed{Smooth: true}}
	two.Need = one.Need
	for _, item := range due(t, care.Input{Bike: bike(&pb.BikeFacts{}), Book: book(one, two)}) {
		if strings.Count(item.GetWhy(), "Rule two asks for it too.") != 1 || item.GetRule() != "one" {
			t.Errorf("%v", item)
		}
	}
}

// TestNothing: what there is nothing to say of.
func TestNothing(t *testing.T) {
	b := book(chainRule(&pb.ChainNeed{MeasuredWithin: days(60)}))
	retired := bike(nil)
	retired.RetiredAt = timestamppb.New(now)
	for name, in := range map[string]care.Input{
		"no rules": {Bike: bike(nil)},
		"retired":  {Bike: retired, Book: b},
	} {
		if items := due(t, in); len(items) != 0 {
			t.Errorf("%s: %v", name, items)
		}
	}
	if items := due(t, care.Input{Book: b}); len(items) != 1 || items[0].GetUrgency() != pb.DueItem_OVERDUE {
		t.Errorf("without a bike: %v", items)
	}
}

// TestPlanFails: an error of the plan, now or on a day to come, ends it.
func TestPlanFails(t *testing.T) {
	broken := errors.New("no change of the clocks")
	for _, after := range []time.Duration{-time.Second, 100 * 24 * time.Hour} {
		_, err := care.Due(care.Input{Bike: bike(nil), At: now, Plan: func(at time.Time) (*pb.GroupPlan, error) {
			if at.Sub(now) > after {
				return nil, broken
			}
			return plan(at)
		}})
		if !errors.Is(err, broken) {
			t.Errorf("%v", err)
		}
	}
}

// TestHostile: dates that are none, numbers that are none, and a log out of order do no harm.
func TestHostile(t *testing.T) {
	log := []*pb.CareEntry{
		nil, {}, {Work: pb.CareEntry_CHAIN_MEASURED, WearPct: ptr(0.1)}, {Work: 99, DoneOn: ago(3)},
		{Work: pb.CareEntry_CHAIN_MEASURED, DoneOn: "2026-02-31", WearPct: ptr(9.0)},
		{Work: pb.CareEntry_CHAIN_MEASURED, DoneOn: "\xff", WearPct: ptr(9.0)},
		entry(5, pb.CareEntry_CHAIN_MEASURED, pct(math.NaN())), entry(4, pb.CareEntry_CHAIN_MEASURED, pct(math.Inf(1))),
		entry(3, pb.CareEntry_CHAIN_MEASURED), entry(2, pb.CareEntry_STRUCK_OUT), entry(-5, pb.CareEntry_CHAIN_MEASURED, pct(2)),
	}
	ridden := []care.Ridden{{}, {On: "x", Km: 50}, {On: ago(3), Km: math.NaN()}, {On: ago(2), Km: math.Inf(1), Wet: true}, {On: ago(2), Km: -80}}
	facts := &pb.BikeFacts{Chain: &pb.Chain{WearPct: ptr(math.NaN()), MeasuredOn: "yesterday", Speeds: ptr(int32(-3))}}
	for _, one := range due(t, care.Input{
		Bike: bike(facts), Care: log, Rides: ridden, DaysAhead: math.MaxInt,
		Book: book(chainRule(&pb.ChainNeed{Wear: []*pb.ChainWearLimit{{SpeedsFrom: 1, Pct: 0.75}}, MeasuredWithin: days(60)}), chainRule(nil), rule("empty", 0)),
	}) {
		if one.GetWhat() == "" || one.GetWhy() == "" || one.DueInKm != nil && math.IsNaN(one.GetDueInKm()) {
			t.Errorf("%v", one)
		}
	}
}
