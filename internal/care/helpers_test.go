package care_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/care"
	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// Now, in these tests, is Saturday 21 November 2026, 18:00, in a zone an hour before UTC. All bikes are invented.
var now = time.Date(2026, time.November, 21, 18, 0, 0, 0, time.FixedZone("", 3600))

func ptr[T any](v T) *T { return &v }

func days(n int) *durationpb.Duration { return durationpb.New(time.Duration(n) * 24 * time.Hour) }

// ago is the civil date so many days before now.
func ago(n int) string { return now.AddDate(0, 0, -n).Format(time.DateOnly) }

// plan is a day without rain; from October to March is the season.
func plan(at time.Time) (*pb.GroupPlan, error) {
	p := &pb.GroupPlan{StartAt: timestamppb.New(at), Circumstances: []pb.Circumstance{pb.Circumstance_ALWAYS}}
	year := at.Year()
	if at.Month() < time.April {
		year--
	} else if at.Month() < time.October {
		return p, nil
	}
	p.SeasonFrom = fmt.Sprintf("%d-10-01", year)
	p.Circumstances = append(p.Circumstances, pb.Circumstance_SEASON)
	return p, nil
}

// rule is one that costs the back of the group, on every day.
func rule(id string, check pb.Check) *pb.Rule {
	return &pb.Rule{Id: id, Check: check, When: []pb.Circumstance{pb.Circumstance_ALWAYS}, Otherwise: pb.Rule_BACK, Because: "It matters."}
}

func chainRule(need *pb.ChainNeed) *pb.Rule {
	r := rule("chain", pb.Check_CHAIN)
	r.Need = &pb.Rule_Chain{Chain: need}
	return r
}

func brakesRule(need *pb.BrakesNeed) *pb.Rule {
	r := rule("brakes", pb.Check_BRAKES)
	r.Need = &pb.Rule_Brakes{Brakes: need}
	return r
}

func cleanRule(need *pb.CleanNeed) *pb.Rule {
	r := rule("clean", pb.Check_CLEAN)
	r.Need = &pb.Rule_Clean{Clean: need}
	return r
}

func book(rules ...*pb.Rule) readiness.Book {
	b := readiness.Book{DeclarationValid: 28 * 24 * time.Hour, Digest: "digest"}
	for i, r := range rules {
		b.Rules = append(b.Rules, readiness.NewRule(r, 10+i))
	}
	return b
}

// bike was certified 400 days ago, before anything in a care log.
func bike(facts *pb.BikeFacts) *pb.Bike {
	return &pb.Bike{Name: "bike", Declaration: &pb.Declaration{Revision: 1, CertifiedAt: timestamppb.New(now.AddDate(0, 0, -400)), Facts: facts}}
}

// entry is a piece of work so many days ago, recorded that noon.
func entry(daysAgo int, work pb.CareEntry_Work, set ...func(*pb.CareEntry)) *pb.CareEntry {
	at := now.AddDate(0, 0, -daysAgo).Add(-6 * time.Hour)
	e := &pb.CareEntry{Name: fmt.Sprintf("%v-%d", work, daysAgo), Work: work, DoneOn: ago(daysAgo), RecordedAt: timestamppb.New(at)}
	for _, f := range set {
		f(e)
	}
	return e
}

func pct(x float64) func(*pb.CareEntry) { return func(e *pb.CareEntry) { e.WearPct = &x } }

func mm(end pb.End, x float64) func(*pb.CareEntry) {
	return func(e *pb.CareEntry) { e.End, e.ThicknessMm = end, &x }
}

// rides are one a week for so many weeks, the last one yesterday.
func rides(weeks int, km float64) []care.Ridden {
	var list []care.Ridden
	for i := range weeks {
		list = append(list, care.Ridden{On: ago(1 + 7*i), Km: km})
	}
	return list
}

func due(t interface{ Fatal(...any) }, in care.Input) []*pb.DueItem {
	in.At = now
	if in.Plan == nil {
		in.Plan = plan
	}
	items, err := care.Due(in)
	if err != nil {
		t.Fatal(err)
	}
	return items
}

// brief is urgency, day and what to do.
func brief(items []*pb.DueItem) []string {
	var list []string
	for _, one := range items {
		list = append(list, fmt.Sprintf("%v %s %s", one.GetUrgency(), one.GetDueOn(), one.GetWhat()))
	}
	return list
}

func same(t *testing.T, got, want []string) {
	t.Helper()
	if !slices.Equal(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
}
