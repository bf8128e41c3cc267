package demo

import (
	"context"
	"fmt"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// pastRide is a ride of November: the day, and how many times as long as planned each group rode.
type pastRide struct {
	day          int
	steady, easy float64
}

// pastRides are the rides from which the times of the steady and the easy group are known. On the fourth the easy group
// had a puncture.
func pastRides() []pastRide {
	return []pastRide{{8, 1.04, 1.05}, {14, 1.03, 1.07}, {18, 1.06, 1.04}, {22, 1.05, 1.31}, {29, 1.02, 1.06}}
}

// party is who rides in one group of those rides; the first leads, the second marks the back.
type party struct {
	group  string
	riders []string
}

func regulars() []party {
	return []party{
		{"steady", []string{Secretary, "Lowen Sparke", "Saskia Thornby", "Noor Vasanthi"}},
		{"easy", []string{"Maren Tull", "Bashir Quill", "Fenella Wickery", "Wilf Yarrowby"}},
	}
}

// november plays the rides before the story.
func (p *player) november(ctx context.Context, all []person) error {
	bikes := map[string]*pb.BikeFacts{}
	for _, one := range all {
		if one.joins > 0 {
			bikes[one.name] = one.bikes[one.joins-1]
		}
	}
	for _, party := range regulars() {
		for _, name := range party.riders {
			facts := proto.CloneOf(bikes[name])
			october(facts)
			if _, err := p.bikes.DeclareBike(p.as(ctx, name), &pb.DeclareBikeRequest{Parent: p.members[name], Facts: facts}); err != nil {
				return fmt.Errorf("declaring %s of %s for the %s group: %w", facts.Title, name, party.group, err)
			}
		}
	}
	for _, past := range pastRides() {
		if err := p.pastRide(ctx, past, bikes); err != nil {
			return fmt.Errorf("riding on %d November: %w", past.day, err)
		}
	}
	return nil
}

// pastRide plans a ride the evening before, rides it, and marks everybody home.
func (p *player) pastRide(ctx context.Context, past pastRide, bikes map[string]*pb.BikeFacts) error {
	start := time.Date(2026, time.November, past.day, 10, 0, 0, 0, time.UTC)
	p.clock.TurnTo(start.Add(-15 * time.Hour))
	asked := sunday(p.members[Leader])
	asked.Title, asked.StartLocal, asked.Groups = "November becks", start.Format("2006-01-02T15:04"), asked.Groups[1:]
	asked.Conditions = &pb.Conditions{
		Start:  &pb.Weather{TemperatureC: proto.Float64(8), WindKmh: proto.Float64(10), WindFromDeg: proto.Float64(250), Wet: proto.Bool(false)},
		Source: "invented for the demo",
	}
	ride, err := p.rides.CreateRide(p.as(ctx, Leader), &pb.CreateRideRequest{Parent: names.Club(clubID), Ride: asked, RouteGpx: Route})
	if err != nil {
		return err
	}
	for _, party := range regulars() {
		for _, name := range party.riders {
			if _, err := p.rides.JoinRide(p.as(ctx, name), &pb.JoinRideRequest{Parent: ride.Name, Signup: &pb.Signup{
				Member: p.members[name], Bike: p.bikeOf(name, 1), PreferredGroup: party.group,
			}}); err != nil {
				return fmt.Errorf("signing up %s: %w", name, err)
			}
		}
	}
	issue, err := p.publish(ctx, ride.Name)
	if err != nil {
		return err
	}
	p.clock.TurnTo(start.Add(9 * time.Hour))
	marks := &pb.RecordMarksRequest{Parent: ride.Name, Marks: p.pastMarks(issue, past)}
	if _, err := p.rolls.RecordMarks(p.as(ctx, Leader), marks); err != nil {
		return fmt.Errorf("marking riders home: %w", err)
	}
	return nil
}

// pastMarks are the marks of a ride: every group set off four minutes late, and its riders are home a minute apart.
func (p *player) pastMarks(issue *pb.Roster, past pastRide) []*pb.Mark {
	var marks []*pb.Mark
	add := func(what pb.Mark_What, name, group string, at time.Time) {
		marks = append(marks, &pb.Mark{
			Name: fmt.Sprintf("%s/marks/%d", issue.Ride.Name, len(marks)), Member: p.members[name], What: what, Group: group,
			At: timestamppb.New(at)})
	}
	took := []float64{past.steady, past.easy}
	for i, party := range regulars() {
		plan := issue.Plan.Groups[i]
		riding := plan.RidingMin
		if plan.PastTimes != nil {
			riding = plan.PastTimes.ByPaceMin
		}
		off := plan.StartAt.AsTime().Add(4 * time.Minute)
		home := off.Add(time.Duration((riding*took[i] + 40) * float64(time.Minute))).Truncate(time.Minute)
		add(pb.Mark_SET_OFF, party.riders[0], party.group, off)
		for k, name := range party.riders {
			add(pb.Mark_HOME, name, party.group, home.Add(time.Duration(k-1)*time.Minute))
		}
	}
	return marks
}
