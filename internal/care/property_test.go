package care_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"gritward/internal/care"
	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

func drawDate(t *rapid.T, name string) string {
	if rapid.IntRange(0, 5).Draw(t, name+" missing") == 0 {
		return ""
	}
	return ago(rapid.IntRange(0, 450).Draw(t, name))
}

func drawDays(t *rapid.T) *durationpb.Duration { return days(rapid.IntRange(1, 380).Draw(t, "within")) }

// drawRule draws a rule with one limit only, so that all of it is what an item is about.
func drawRule(t *rapid.T, i int) *pb.Rule {
	var r *pb.Rule
	switch rapid.IntRange(0, 9).Draw(t, "rule") {
	case 0:
		r = chainRule(&pb.ChainNeed{MeasuredWithin: drawDays(t)})
	case 1:
		r = chainRule(&pb.ChainNeed{LubricatedWithin: drawDays(t)})
	case 2:
		r = chainRule(&pb.ChainNeed{Wear: []*pb.ChainWearLimit{{SpeedsFrom: 1, Pct: rapid.SampledFrom([]float64{0.3, 0.5, 0.75}).Draw(t, "below")}}})
	case 3:
		r = brakesRule(&pb.BrakesNeed{LookedWithin: drawDays(t)})
	case 4:
		r = brakesRule(&pb.BrakesNeed{RimPadMm: ptr(rapid.Float64Range(0.5, 3).Draw(t, "pad"))})
	case 5:
		r = cleanRule(&pb.CleanNeed{WashedWithin: drawDays(t)})
	case 6:
		r = cleanRule(&pb.CleanNeed{SinceWetRide: true})
	case 7:
		r = rule("", pb.Check_DECLARATION)
		r.Need = &pb.Rule_Declaration{Declaration: &pb.DeclarationNeed{Valid: drawDays(t)}}
	case 8:
		r = rule("", pb.Check_BEARINGS)
		need := &pb.BearingsNeed{Which: []pb.CareEntry_Place{pb.CareEntry_HEADSET}}
		if rapid.Bool().Draw(t, "before season") {
			need.BeforeSeason = drawDays(t)
		} else {
			need.ServicedWithin = drawDays(t)
		}
		r.Need = &pb.Rule_Bearings{Bearings: need}
	default:
		r = rule("", pb.Check_FRAME)
		r.Need = &pb.Rule_Frame{Frame: &pb.FrameNeed{WaxedWithin: drawDays(t)}}
	}
	r.Id = fmt.Sprintf("r%d-%s", i, strings.ToLower(r.GetCheck().String()))
	r.When = []pb.Circumstance{rapid.SampledFrom([]pb.Circumstance{pb.Circumstance_ALWAYS, pb.Circumstance_SEASON, pb.Circumstance_DARK}).Draw(t, "when")}
	r.Otherwise = rapid.SampledFrom([]pb.Rule_Consequence{pb.Rule_ADVISE, pb.Rule_BACK, pb.Rule_HOLD}).Draw(t, "otherwise")
	return r
}

func drawInput(t *rapid.T) care.Input {
	brake := func(name string) *pb.Brake {
		return &pb.Brake{Kind: pb.Brake_RIM, LookedOn: drawDate(t, name), PadMm: ptr(rapid.Float64Range(0, 8).Draw(t, name+" pad"))}
	}
	in := care.Input{DaysAhead: rapid.IntRange(0, 400).Draw(t, "days ahead"), Bike: bike(&pb.BikeFacts{
		Chain:    &pb.Chain{Speeds: ptr(int32(9)), WearPct: ptr(rapid.Float64Range(0, 0.9).Draw(t, "wear")), MeasuredOn: drawDate(t, "measured"), LubricatedOn: drawDate(t, "lubricated")},
		Brakes:   &pb.Brakes{Front: brake("front"), Rear: brake("rear")},
		Cleaning: &pb.Cleaning{WashedOn: drawDate(t, "washed"), LookedOverOn: drawDate(t, "looked over")},
		Bearings: &pb.Bearings{Headset: &pb.Bearing{ServicedOn: drawDate(t, "headset")}},
		Frame:    &pb.Frame{WaxedOn: drawDate(t, "waxed")},
	})}
	in.Bike.Declaration.CertifiedAt = timestamppb.New(now.Add(-time.Duration(rapid.IntRange(0, 24*450).Draw(t, "certified")) * time.Hour))
	for i := range rapid.IntRange(0, 12).Draw(t, "entries") {
		work := rapid.SampledFrom([]pb.CareEntry_Work{
			pb.CareEntry_CHAIN_MEASURED, pb.CareEntry_CHAIN_RENEWED, pb.CareEntry_CHAIN_LUBRICATED, pb.CareEntry_PADS_MEASURED,
			pb.CareEntry_PADS_RENEWED, pb.CareEntry_WASHED, pb.CareEntry_LOOKED_OVER, pb.CareEntry_FRAME_WAXED, pb.CareEntry_STRUCK_OUT,
		}).Draw(t, "work")
		e := entry(rapid.IntRange(1, 400).Draw(t, "done"), work, pct(rapid.Float64Range(0, 0.9).Draw(t, "pct")))
		e.ThicknessMm, e.End, e.Name = ptr(rapid.Float64Range(0, 8).Draw(t, "mm")), rapid.SampledFrom([]pb.End{pb.End_FRONT, pb.End_REAR}).Draw(t, "end"), fmt.Sprint(i)
		if work == pb.CareEntry_STRUCK_OUT {
			e.Strikes = fmt.Sprint(rapid.IntRange(0, 12).Draw(t, "strikes"))
		}
		e.RecordedAt.Nanos = int32(i) // no two at once: the log is in the order of recording
		in.Care = append(in.Care, e)
	}
	for range rapid.IntRange(0, 12).Draw(t, "rides") {
		in.Rides = append(in.Rides, care.Ridden{
			On: ago(rapid.IntRange(0, 300).Draw(t, "ridden")), Km: float64(rapid.IntRange(0, 300).Draw(t, "km")), Wet: rapid.Bool().Draw(t, "wet"),
		})
	}
	var rules []*pb.Rule
	for i := range rapid.IntRange(1, 6).Draw(t, "rules") {
		rules = append(rules, drawRule(t, i))
	}
	in.Book = book(rules...)
	return in
}

// met judges a bike by one rule, whole, on a day: what is not asked is met. It is judged at the end of the day.
func met(in care.Input, id string, day time.Time) bool {
	at := time.Date(day.Year(), day.Month(), day.Day(), 23, 59, 59, 0, now.Location())
	return metAt(in, id, at)
}

func metAt(in care.Input, id string, at time.Time) bool {
	subject := readiness.Subject{Bike: in.Bike.GetName(), Declaration: in.Bike.GetDeclaration(), Care: in.Care}
	for _, ride := range in.Rides {
		if ride.Wet {
			subject.LastWetRideOn = max(subject.LastWetRideOn, ride.On)
		}
	}
	group, _ := plan(at)
	for _, f := range readiness.Assess(in.Book, subject, group, at).GetFindings() {
		if f.GetRule() == id {
			return f.GetStanding() == pb.Standing_CLEAR
		}
	}
	return true
}

// TestDueOn: what is due on a day by a rule was met by it the day before, and is not met on it; what is overdue is not
// met now, and of what is not met now nothing is left out.
func TestDueOn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawInput(t)
		items := due(t, in)
		for _, one := range items {
			if one.GetDueOn() == "" {
				continue
			}
			day, err := time.Parse(time.DateOnly, one.GetDueOn())
			if err != nil {
				t.Fatal(err)
			}
			if !met(in, one.GetRule(), day.AddDate(0, 0, -1)) {
				t.Errorf("not met the day before: %v", one)
			}
			if one.GetDueOn() != ago(0) && met(in, one.GetRule(), day) {
				t.Errorf("met on the day: %v", one)
			}
			ahead := int(day.Sub(now.Truncate(24*time.Hour)).Hours() / 24)
			want := pb.DueItem_LATER
			if !metAt(in, one.GetRule(), now) {
				want = pb.DueItem_OVERDUE
			} else if ahead <= in.DaysAhead {
				want = pb.DueItem_SOON
			}
			if one.GetUrgency() != want {
				t.Errorf("want %v: %v", want, one)
			}
		}
		for _, r := range in.Book.Rules {
			overdue := slices.ContainsFunc(items, func(one *pb.DueItem) bool {
				mine := one.GetRule() == r.GetId() || strings.Contains(one.GetWhy(), "Rule "+r.GetId()+" asks for it too.")
				return mine && one.GetUrgency() == pb.DueItem_OVERDUE
			})
			if !overdue && !metAt(in, r.GetId(), now) {
				t.Errorf("rule %v is left out: %v", r.Rule, items)
			}
		}
	})
}

// TestList: the more pressing first, nothing twice, nothing without words; and the order of log and rides is nothing.
func TestList(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawInput(t)
		items := due(t, in)
		seen := map[string]bool{}
		for i, one := range items {
			if i > 0 && (one.GetStanding() > items[i-1].GetStanding() ||
				one.GetStanding() == items[i-1].GetStanding() && one.GetUrgency() < items[i-1].GetUrgency()) {
				t.Errorf("%v after %v", one, items[i-1])
			}
			key := one.GetCheck().String() + one.GetWhat()
			if seen[key] || one.GetWhat() == "" || one.GetWhy() == "" || one.GetRule() == "" {
				t.Errorf("%v", one)
			}
			seen[key] = true
			if strings.Contains(one.GetWhy(), "the start") || strings.Contains(one.GetWhy(), "this group") {
				t.Errorf("no ride was given: %v", one)
			}
			if strings.Contains(one.GetWhat(), "Until then") {
				t.Errorf("what is to be done has more in it: %v", one)
			}
			p := one.GetProjection()
			if p != nil && (p.GetKmLow() > p.GetKmMiddle() || p.KmHigh != nil && p.GetKmMiddle() > p.GetKmHigh()) {
				t.Errorf("%v", one)
			}
		}
		in.Care, in.Rides = rapid.Permutation(in.Care).Draw(t, "care"), rapid.Permutation(in.Rides).Draw(t, "rides")
		again := due(t, in)
		if !slices.EqualFunc(items, again, func(a, b *pb.DueItem) bool { return proto.Equal(a, b) }) {
			t.Errorf("in another order\n%v\n%v", items, again)
		}
	})
}

// TestWholeRules: a rule of several limits gives what as many rules of one limit each give.
func TestWholeRules(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawInput(t)
		a, b, c := drawDays(t), drawDays(t), drawDays(t)
		wear := []*pb.ChainWearLimit{{SpeedsFrom: 1, Pct: 0.5}}
		in.Book = book(chainRule(&pb.ChainNeed{Wear: wear, MeasuredWithin: a, LubricatedWithin: b}), cleanRule(&pb.CleanNeed{WashedWithin: c, SinceWetRide: true}))
		whole := due(t, in)
		in.Book = book(
			chainRule(&pb.ChainNeed{Wear: wear}), chainRule(&pb.ChainNeed{MeasuredWithin: a}), chainRule(&pb.ChainNeed{LubricatedWithin: b}),
			cleanRule(&pb.CleanNeed{WashedWithin: c}), cleanRule(&pb.CleanNeed{SinceWetRide: true}),
		)
		if apart := due(t, in); !slices.EqualFunc(whole, apart, func(a, b *pb.DueItem) bool { return proto.Equal(a, b) }) {
			t.Errorf("%v\n%v", whole, apart)
		}
	})
}
