package season

import (
	"cmp"
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	pb "gritward/proto/gritward/v1"
)

// MaxRemedies is how many remedies a report lists.
const MaxRemedies = 40

// Span is what a report is about.
type Span struct {
	Club *pb.Club
	// From and To are the first and last day, YYYY-MM-DD, local to the club.
	From, To string
	// Now is when it is reckoned: a ride that starts later is still to come.
	Now time.Time
	// Names tells riders and bikes by name.
	Names bool
}

// Outing is all that the records have of one ride.
type Outing struct {
	Ride *pb.Ride
	// Issues are its published rosters, oldest first; visited so that one at a time is in memory.
	Issues func(visit func(*pb.Roster) error) error
	// Signups of all states.
	Signups []*pb.Signup
	// Riders as the roll call has them.
	Riders []*pb.RiderRoll
	// Marked tells that the roll call has marks at all.
	Marked bool
	// Over tells that it was closed, or that the time by which it counts as closed is past.
	Over bool
	// Times are how long its groups took. Disbelieved are groups of which a time is recorded that says nothing: it is not
	// among them.
	Times       []*pb.RecordedTime
	Disbelieved []string
	// Notices are how often somebody was told that riders were overdue; Incidents how many were written down.
	Notices, Incidents int
}

// Ridden is a ride that a bike rode home.
type Ridden struct {
	// Bike is clubs/{club}/members/{member}/bikes/{bike}; Title what the member calls it; Owner the member's name.
	Bike, Title, Owner string
	Ride               *pb.RiddenRide
}

// Reckoning is a report in the making.
type Reckoning struct {
	report   *pb.SeasonReport
	now      time.Time
	rules    map[string]*pb.RuleCount
	remedies map[string]*pb.RemedyCount
	riders   map[string]*pb.SeasonRider
	bikes    map[string]*pb.SeasonBike
	gaps     gaps
}

// Begin begins a report.
func Begin(span Span) *Reckoning {
	return &Reckoning{
		report: &pb.SeasonReport{Club: span.Club.GetName(), ClubTitle: span.Club.GetTitle(), Zone: span.Club.GetZone(),
			From: span.From, To: span.To, MadeAt: timestamppb.New(span.Now), NamesTold: span.Names,
			Totals: &pb.SeasonTotals{Standings: &pb.StandingCount{}}},
		now:   span.Now,
		rules: map[string]*pb.RuleCount{}, remedies: map[string]*pb.RemedyCount{},
		riders: map[string]*pb.SeasonRider{}, bikes: map[string]*pb.SeasonBike{},
	}
}

// Add adds a ride. The error is that of reading its issues.
func (r *Reckoning) Add(outing Outing) error {
	ride := &pb.SeasonRide{Ride: outing.Ride.Name, Title: outing.Ride.Title, Day: day(outing.Ride), RouteKm: outing.Ride.GetRoute().GetDistanceM() / 1000,
		OverdueNotices: int32(outing.Notices), Incidents: int32(outing.Incidents)}
	r.attended(ride, outing)
	var newest *pb.Roster
	err := outing.Issues(func(issue *pb.Roster) error {
		ride.Issues = append(ride.Issues, &pb.SeasonIssue{Number: issue.Number, PublishedAt: issue.PublishedAt, Standings: standings(issue.Placement)})
		newest = issue
		return nil
	})
	if err != nil {
		return err
	}
	ride.Outcome = r.outcome(outing, ride)
	if ride.Outcome == pb.SeasonRide_CALLED_OFF {
		ride.CallOffReason = outing.Ride.CallOffReason
	}
	if newest != nil {
		r.placed(ride, newest, outing.Times)
	}
	r.gaps.note(ride, newest, outing)
	r.report.Rides = append(r.report.Rides, ride)
	return nil
}

// outcome tells what became of a ride.
func (r *Reckoning) outcome(outing Outing, ride *pb.SeasonRide) pb.SeasonRide_Outcome {
	switch {
	case outing.Ride.State == pb.Ride_CALLED_OFF:
		return pb.SeasonRide_CALLED_OFF
	case ride.Rode == 0 && outing.Ride.StartAt.AsTime().After(r.now):
		return pb.SeasonRide_TO_COME
	case !outing.Over && (ride.Rode == 0 || slices.ContainsFunc(outing.Riders, underWay)):
		return pb.SeasonRide_UNDER_WAY
	case ride.Rode > 0:
		return pb.SeasonRide_HELD
	}
	return pb.SeasonRide_NOT_RECORDED
}

// underWay tells whether a rider may still be out, or still set out.
func underWay(roll *pb.RiderRoll) bool {
	switch roll.State {
	case pb.RiderRoll_HOME, pb.RiderRoll_HANDED_OVER, pb.RiderRoll_DID_NOT_COME:
		return false
	}
	return true
}

// attended counts who signed up and who set out.
func (r *Reckoning) attended(ride *pb.SeasonRide, outing Outing) {
	for _, signup := range outing.Signups {
		switch signup.State {
		case pb.Signup_WITHDRAWN:
			ride.Withdrawn++
			continue
		case pb.Signup_WAITING:
			ride.Waiting++
			r.rider(signup.Member, signup.DisplayName).Waiting++
		}
		ride.Signups++
	}
	for _, roll := range outing.Riders {
		if roll.State == pb.RiderRoll_DID_NOT_COME {
			ride.DidNotCome++
		}
		if !SetOut(roll) {
			continue
		}
		rider := r.rider(roll.Member, roll.DisplayName)
		ride.Rode++
		rider.Rode++
		switch {
		case roll.Rode:
			ride.Home++
			rider.Home++
		case roll.State != pb.RiderRoll_OUT:
			ride.TurnedBack++
		}
	}
}

// SetOut tells whether the roll call has a rider as having set out.
func SetOut(roll *pb.RiderRoll) bool {
	switch roll.State {
	case pb.RiderRoll_OUT, pb.RiderRoll_TURNED_BACK, pb.RiderRoll_HOME, pb.RiderRoll_HANDED_OVER:
		return true
	}
	return false
}

func (r *Reckoning) rider(member, name string) *pb.SeasonRider {
	rider := r.riders[member]
	if rider == nil {
		rider = &pb.SeasonRider{Member: member, DisplayName: name}
		r.riders[member] = rider
	}
	rider.DisplayName = cmp.Or(rider.DisplayName, name)
	return rider
}

// Rode adds a ride that a bike rode home.
func (r *Reckoning) Rode(ridden Ridden) {
	bike := r.bike(ridden.Bike)
	bike.Title, bike.DisplayName = ridden.Title, ridden.Owner
	bike.Rides++
	bike.Km += ridden.Ride.Km
	total := r.report.Totals
	total.BikeRides++
	total.Km += ridden.Ride.Km
	if ridden.Ride.Wet {
		bike.WetRides++
		total.WetBikeRides++
	}
}

func (r *Reckoning) bike(name string) *pb.SeasonBike {
	bike := r.bikes[name]
	if bike == nil {
		bike = &pb.SeasonBike{Bike: name}
		r.bikes[name] = bike
	}
	return bike
}

// Bikes are the names of the bikes that were ridden home, in order.
func (r *Reckoning) Bikes() []string {
	var all []string
	for name := range r.bikes {
		all = append(all, name)
	}
	slices.Sort(all)
	return all
}

// Care adds the care log of a bike that was ridden home, without what was struck out, by the day of the work: how worn its
// chain was measured first and last in the span, and whether a new one came between.
func (r *Reckoning) Care(name string, log []*pb.CareEntry) {
	bike, renewed := r.bike(name), false
	for _, entry := range log {
		if entry.DoneOn < r.report.From || entry.DoneOn > r.report.To {
			continue
		}
		switch {
		case entry.Work == pb.CareEntry_CHAIN_RENEWED:
			renewed = bike.ChainFirstPct != nil
		case entry.Work != pb.CareEntry_CHAIN_MEASURED || entry.WearPct == nil:
		case bike.ChainFirstPct == nil:
			bike.ChainFirstPct, bike.ChainFirstOn = entry.WearPct, entry.DoneOn
		default:
			bike.ChainLastPct, bike.ChainLastOn = entry.WearPct, entry.DoneOn
			bike.ChainReplaced = bike.ChainReplaced || renewed
		}
	}
}

// day is the day of a ride, local to the club.
func day(ride *pb.Ride) string { return ride.StartLocal[:min(len(ride.StartLocal), len("2006-01-02"))] }
