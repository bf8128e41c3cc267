package server

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// clockSlack is how far a device's clock may be ahead of the server's.
const clockSlack = 5 * time.Minute

type rollCallService struct {
	pb.UnsafeRollCallServiceServer
	*desk
}

// RecordMarks implements RollCallService.
func (s *rollCallService) RecordMarks(ctx context.Context, request *pb.RecordMarksRequest) (*pb.RecordMarksResponse, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.RideShape)
	if err != nil {
		return nil, err
	}
	response := &pb.RecordMarksResponse{}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		ride, err := tx.Ride(ids[1])
		if err != nil {
			return err
		}
		if ride.State == pb.Ride_CALLED_OFF {
			return fault.New(pb.Reason_WRONG_STATE, "the ride is called off: %s", ride.CallOffReason)
		}
		for i, mark := range request.Marks {
			kept, err := s.mark(tx, who, ride, fmt.Sprintf("marks[%d]", i), mark, request.Early)
			if err != nil {
				return err
			}
			response.Marks = append(response.Marks, kept)
		}
		if err := s.recordTimes(tx, ride); err != nil {
			return err
		}
		return tx.Append(audit(who, "RollCallService/RecordMarks", ride.Name, fmt.Sprintf("marked %d riders", len(request.Marks))))
	})
	if err != nil {
		return nil, err
	}
	return response, nil
}

// mark records one mark; a rider marked home for the first time has ridden the ride.
func (s *rollCallService) mark(tx *ledger.Tx, who *caller, ride *pb.Ride, path string, mark *pb.Mark, early bool) (*pb.Mark, error) {
	ids, err := names.In(tx.Club, path+".name", mark.Name, names.MarkShape)
	if err != nil {
		return nil, err
	}
	if ids[1] != names.Last(ride.Name) {
		return nil, fault.Invalid(path+".name", "is a mark of another ride; this one is %s", ride.Name)
	}
	member, err := memberAt(tx, path+".member", mark.Member)
	if err != nil {
		return nil, err
	}
	signup, err := tx.FindSignup(ids[1], names.Last(member.Name))
	if err != nil {
		return nil, err
	}
	if signup == nil || signup.State != pb.Signup_IN {
		return nil, fault.Invalid(path+".member", "%s has no place on this ride", member.DisplayName)
	}
	if mark.At == nil {
		mark.At = tx.Stamp()
	}
	if !mark.At.IsValid() {
		return nil, fault.Invalid(path+".at", "is not a time")
	}
	if mark.At.AsTime().After(tx.Now.Add(clockSlack)) {
		return nil, fault.Invalid(path+".at", "lies in the future; look at the device's clock")
	}
	if done, ends := endings[mark.What]; ends && tx.Now.Before(ride.StartAt.AsTime()) {
		return nil, fault.Invalid(path+".what", "nobody %s before the ride has started, at %s", done, ride.StartLocal)
	}
	if what := tooSoon(ride, mark); what != "" && !early {
		return nil, &fault.Error{Reason: pb.Reason_HOME_TOO_SOON, Message: "a rider is marked home too soon",
			Fields: []fault.Field{{Path: path + ".at", What: member.DisplayName + ": " + what}}}
	}
	mark.Device = who.device.Name
	kept, fresh, err := tx.AddMark(mark)
	if err != nil || !fresh || mark.What != pb.Mark_HOME {
		return kept, err
	}
	return kept, s.rodeHome(tx, ride, member, signup)
}

// endings are the marks that only a ride which has started can have.
var endings = map[pb.Mark_What]string{pb.Mark_HOME: "is home", pb.Mark_TURNED_BACK: "has turned back"}

// flyingFactor is by how much a rider may be faster over the whole route, stops and hills included, than the fastest group's
// pace on the flat without being asked whether that is so. A choice of this program.
const flyingFactor = 1.25

// tooSoon tells that a rider is marked home sooner than the route can be ridden; "" where that is not so.
func tooSoon(ride *pb.Ride, mark *pb.Mark) string {
	if mark.What != pb.Mark_HOME || len(ride.Groups) == 0 {
		return ""
	}
	fastest := slices.MaxFunc(ride.Groups, func(a, b *pb.Group) int { return cmp.Compare(a.PaceKmh, b.PaceKmh) }).PaceKmh
	first := slices.MinFunc(ride.Groups, func(a, b *pb.Group) int { return cmp.Compare(a.StartOffsetMin, b.StartOffsetMin) })
	began := ride.StartAt.AsTime().Add(time.Duration(float64(first.StartOffsetMin) * float64(time.Minute)))
	km, kmh := ride.Route.GetDistanceM()/1000, flyingFactor*fastest
	least := time.Duration(km / kmh * float64(time.Hour)).Round(time.Minute)
	took := mark.At.AsTime().Sub(began)
	if took >= least {
		return ""
	}
	return fmt.Sprintf("home %.0f min after the start, sooner than the %.1f km could be ridden a quarter faster than the fastest group's pace, "+
		"which takes %.0f min; mark who turned back as turned-back, or look at the time", took.Minutes(), km, least.Minutes())
}

// rodeHome counts the ride for the bike and the member, once.
func (s *rollCallService) rodeHome(tx *ledger.Tx, ride *pb.Ride, member *pb.Member, signup *pb.Signup) error {
	owner, id := names.Part(signup.Bike, "members"), names.Part(signup.Bike, "bikes")
	km, again := 0.0, false
	err := tx.Ridden(owner, id, func(ridden *pb.RiddenRide) error {
		again = again || ridden.Ride == ride.Name
		km += ridden.Km
		return nil
	})
	if err != nil || again {
		return err
	}
	wet, err := s.wetFor(tx, ride, member.Name)
	if err != nil {
		return err
	}
	ridden := &pb.RiddenRide{Ride: ride.Name, Day: ride.StartLocal[:len("2006-01-02")], Km: ride.Route.DistanceM / 1000, Wet: wet}
	if err := tx.SaveRidden(owner, id, ridden); err != nil {
		return err
	}
	bike, err := tx.Bike(owner, id)
	if err != nil {
		return err
	}
	bike.RiddenKm = km + ridden.Km
	if err := tx.SaveBike(bike); err != nil {
		return err
	}
	member.RidesRidden++
	return tx.SaveMember(member)
}

// wetFor tells whether the road was wet for a rider: as planned for the rider's group in the newest roster; for a rider in
// none, as planned for any group, in that roster or, where there is none, by the weather that the ride has.
func (s *rollCallService) wetFor(tx *ledger.Tx, ride *pb.Ride, member string) (bool, error) {
	var plan *pb.RidePlan
	if ride.RosterNumber > 0 {
		issue, err := tx.Roster(names.Last(ride.Name), ride.RosterNumber)
		if err != nil {
			return false, err
		}
		for _, group := range issue.GetPlacement().GetGroups() {
			for _, row := range group.Rows {
				if row.GetLeft().GetMember() == member || row.GetRight().GetMember() == member {
					return isWet(group.GetPlan()), nil
				}
			}
		}
		plan = issue.Plan
	} else {
		g, err := s.ground(tx, names.Last(ride.Name))
		if fault.Is(err, pb.Reason_NO_POLICY) { // there is no plan
			return ride.GetConditions().GetStart().GetWet(), nil
		}
		if err != nil {
			return false, err
		}
		plan = g.plan
	}
	return slices.ContainsFunc(plan.GetGroups(), isWet), nil
}

func isWet(plan *pb.GroupPlan) bool {
	return slices.Contains(plan.GetCircumstances(), pb.Circumstance_WET)
}
