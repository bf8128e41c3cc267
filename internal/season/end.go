package season

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	pb "gritward/proto/gritward/v1"
)

// End gives the report. Nothing may be added afterwards.
func (r *Reckoning) End() *pb.SeasonReport {
	slices.SortFunc(r.report.Rides, func(a, b *pb.SeasonRide) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Ride, b.Ride))
	})
	for _, ride := range r.report.Rides {
		sum(r.report.Totals, ride)
	}
	r.report.Rules = sorted(r.rules, func(a, b *pb.RuleCount) int {
		return cmp.Or(cmp.Compare(b.Times, a.Times), cmp.Compare(b.Held, a.Held), cmp.Compare(a.Rule, b.Rule))
	})
	r.report.Remedies = sorted(r.remedies, func(a, b *pb.RemedyCount) int {
		return cmp.Or(cmp.Compare(b.Times, a.Times), cmp.Compare(a.Remedy, b.Remedy))
	})
	r.report.Remedies = r.report.Remedies[:min(len(r.report.Remedies), MaxRemedies)]
	riders := sorted(r.riders, func(a, b *pb.SeasonRider) int {
		return cmp.Or(cmp.Compare(b.Rode, a.Rode), cmp.Compare(a.DisplayName, b.DisplayName), cmp.Compare(a.Member, b.Member))
	})
	for _, rider := range riders {
		if rider.Rode > 0 {
			r.report.Totals.Riders++
		}
	}
	bikes := sorted(r.bikes, func(a, b *pb.SeasonBike) int {
		return cmp.Or(cmp.Compare(b.Km, a.Km), cmp.Compare(a.Bike, b.Bike))
	})
	r.gaps.bikes(bikes)
	if r.report.NamesTold {
		r.report.Riders, r.report.Bikes = riders, bikes
	}
	r.report.Missing = r.gaps.words()
	return r.report
}

func sorted[T any](all map[string]T, less func(a, b T) int) []T {
	return slices.SortedFunc(maps.Values(all), less)
}

// sum adds a ride to the totals.
func sum(t *pb.SeasonTotals, ride *pb.SeasonRide) {
	t.Rides++
	switch ride.Outcome {
	case pb.SeasonRide_HELD:
		t.Held++
		if ride.GetWet() {
			t.WetRides++
		}
	case pb.SeasonRide_CALLED_OFF:
		t.CalledOff++
	case pb.SeasonRide_NOT_RECORDED:
		t.NotRecorded++
	case pb.SeasonRide_TO_COME:
		t.ToCome++
	case pb.SeasonRide_UNDER_WAY:
		t.UnderWay++
	}
	for _, pair := range []struct {
		to   *int32
		what int32
	}{
		{&t.Rode, ride.Rode}, {&t.Home, ride.Home}, {&t.TurnedBack, ride.TurnedBack}, {&t.DidNotCome, ride.DidNotCome},
		{&t.Signups, ride.Signups}, {&t.Waiting, ride.Waiting}, {&t.Withdrawn, ride.Withdrawn}, {&t.Placed, ride.Placed}, {&t.Unplaced, ride.Unplaced},
		{&t.Wishes, ride.Wishes}, {&t.WishesMet, ride.WishesMet}, {&t.OverdueNotices, ride.OverdueNotices}, {&t.Incidents, ride.Incidents},
		{&t.Issues, int32(len(ride.Issues))},
	} {
		*pair.to += pair.what
	}
	if ride.Outcome != pb.SeasonRide_CALLED_OFF {
		t.GroupsRun += int32(len(ride.Groups))
		t.GroupsIdle += ride.GroupsIdle
	}
	if n := len(ride.Issues); n > 0 {
		one := ride.Issues[n-1].Standings
		t.Standings.Clear += one.Clear
		t.Standings.Advised += one.Advised
		t.Standings.Back += one.Back
		t.Standings.Held += one.Held
	}
	for _, group := range ride.Groups {
		if group.TookMin != nil && group.PlannedMin != nil {
			t.TimedGroups++
			t.PlannedMin += group.GetPlannedMin()
			t.TookMin += group.GetTookMin()
		}
	}
}

// gaps count what the records do not have.
type gaps struct {
	unmarked, notEnded, withoutIssue, stillOut, untimed, disbelieved, noMargin, formerHome, chains, bikesAll int
}

// note looks at a ride that is past for what is missing.
func (g *gaps) note(ride *pb.SeasonRide, newest *pb.Roster, outing Outing) {
	switch ride.Outcome {
	case pb.SeasonRide_NOT_RECORDED:
		g.unmarked++
	case pb.SeasonRide_UNDER_WAY:
		g.notEnded++
	case pb.SeasonRide_HELD:
		if newest == nil {
			g.withoutIssue++
		}
		for _, roll := range outing.Riders {
			if roll.State == pb.RiderRoll_OUT {
				g.stillOut++
			}
			if roll.Rode && roll.DisplayName == "" {
				g.formerHome++
			}
		}
		for _, group := range ride.Groups {
			switch {
			case group.TookMin != nil:
			case slices.Contains(outing.Disbelieved, group.Group):
				g.disbelieved++
			default:
				g.untimed++
			}
			if group.MarginMin == nil {
				g.noMargin++
			}
		}
	}
}

// bikes looks at the bikes ridden for chains that were not measured twice.
func (g *gaps) bikes(bikes []*pb.SeasonBike) {
	g.bikesAll = len(bikes)
	for _, bike := range bikes {
		if bike.ChainLastPct == nil {
			g.chains++
		}
	}
}

// words tell what is missing.
func (g *gaps) words() (all []string) {
	say := func(n int, one, many string) {
		switch {
		case n == 1:
			all = append(all, one)
		case n > 1:
			all = append(all, fmt.Sprintf(many, n))
		}
	}
	say(g.unmarked, "Of 1 past ride nobody marked who set out: whether it was ridden is not known, and it counts as neither ridden nor called off.",
		"Of %d past rides nobody marked who set out: whether they were ridden is not known, and they count as neither ridden nor called off.")
	say(g.notEnded, "1 ride has begun and not ended: it counts as neither ridden nor called off yet.",
		"%d rides have begun and not ended: they count as neither ridden nor called off yet.")
	say(g.withoutIssue, "1 ride went out without a published roster: its groups, standings, light and wishes are not known.",
		"%d rides went out without a published roster: their groups, standings, light and wishes are not known.")
	say(g.stillOut, "1 rider set out and was never marked home or turned back; no kilometres count.",
		"%d riders set out and were never marked home or turned back; no kilometres count.")
	say(g.untimed, "How long 1 group took is not known: too few marks.", "How long %d groups took is not known: too few marks.")
	const why = "under 30 min of riding, or under half or over twice the planned time."
	say(g.disbelieved, "The recorded time of 1 group is left out, as in ride times: "+why, "The recorded times of %d groups are left out, as in ride times: "+why)
	say(g.noMargin, "Of 1 group it is not known how long before dark it was to be home.", "Of %d groups it is not known how long before dark they were to be home.")
	say(g.formerHome, "1 ride home was that of a former member, whose bike and kilometres are erased.",
		"%d rides home were those of former members, whose bikes and kilometres are erased.")
	switch {
	case g.chains > 0 && g.chains == g.bikesAll:
		all = append(all, "Of no bike ridden was the chain measured twice in these days: how they wore is not told.")
	case g.chains > 0:
		all = append(all, fmt.Sprintf("Of %d of the %d bikes ridden the chain was not measured twice in these days: its wear is not told.", g.chains, g.bikesAll))
	}
	return all
}
