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
	"gritward/internal/phrase"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

// clockSlack is how far a device's clock may be ahead of the server's.
const clockSlack = 5 * time.Minute

// maxMarks is how many marks a ride may have: a thousand riders and twenty marks of each.
const maxMarks = 20_000

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
		response.Marks = nil
		ride, err := tx.Ride(ids[1])
		if err != nil {
			return err
		}
		if ride.State == pb.Ride_CALLED_OFF {
			return fault.New(pb.Reason_WRONG_STATE, "the ride is called off: %s", ride.CallOffReason)
		}
		ahead, err := clockAhead(tx, request.DeviceNow)
		if err != nil {
			return err
		}
		there, err := marksOf(tx, ids[1])
		if err != nil {
			return err
		}
		m := &marking{tx: tx, who: who, ride: ride, ahead: ahead, early: request.Early, there: there, fresh: map[string]bool{}}
		for i, mark := range request.Marks {
			kept, err := m.record(fmt.Sprintf("marks[%d]", i), mark)
			if err != nil {
				return err
			}
			response.Marks = append(response.Marks, kept)
		}
		if len(m.fresh) == 0 {
			return nil // sent again: nothing changes
		}
		if len(m.there) > maxMarks {
			return fault.New(pb.Reason_WRONG_STATE, "the ride would have %d marks; it may have %d", len(m.there), maxMarks)
		}
		if err := s.settle(m); err != nil {
			return err
		}
		return tx.Append(audit(who, "RollCallService/RecordMarks", ride.Name, "marked "+phrase.Counted(len(m.fresh), "rider", "riders")))
	})
	if err != nil {
		return nil, err
	}
	return response, nil
}

// marking is a call that records marks.
type marking struct {
	tx    *ledger.Tx
	who   *caller
	ride  *pb.Ride
	ahead time.Duration
	early bool
	// there are the marks of the ride, with those recorded so far; fresh are the members with a new one.
	there []*pb.Mark
	fresh map[string]bool
}

// record records one mark.
func (m *marking) record(path string, mark *pb.Mark) (*pb.Mark, error) {
	ids, err := names.In(m.tx.Club, path+".name", mark.Name, names.MarkShape)
	if err != nil {
		return nil, err
	}
	if ids[1] != names.Last(m.ride.Name) {
		return nil, fault.Invalid(path+".name", "is a mark of another ride; this one is %s", m.ride.Name)
	}
	member, err := memberAt(m.tx, path+".member", mark.Member)
	if err != nil {
		return nil, err
	}
	if err := offered(path+".group", m.ride, mark.Group); err != nil {
		return nil, err
	}
	if err := m.strikes(path, mark); err != nil {
		return nil, err
	}
	mark.Device, mark.ReceivedAt, mark.Number = m.who.device.Name, nil, 0
	if err := m.correct(path, mark); err != nil {
		return nil, err
	}
	if done, ends := endings[mark.What]; ends && m.tx.Now.Before(m.ride.StartAt.AsTime()) && !m.setOff(mark) {
		return nil, fault.Invalid(path+".what", "nobody %s before the ride has started, at %s; of a group that left sooner mark first who has set off", done, m.ride.StartLocal)
	}
	if what := tooSoon(m.ride, mark); what != "" && !m.early && !m.turnedBack(mark) {
		return nil, &fault.Error{Reason: pb.Reason_HOME_TOO_SOON, Message: "a rider is marked home too soon",
			Fields: []fault.Field{{Path: path + ".at", What: member.DisplayName + ": " + what}}}
	}
	kept, fresh, err := m.tx.AddMark(mark)
	if fresh {
		m.there, m.fresh[mark.Member] = append(m.there, kept), true
	}
	return kept, err
}

// strikes holds a mark that strikes another against it, where that is there. It may come later.
func (m *marking) strikes(path string, mark *pb.Mark) error {
	if (mark.What == pb.Mark_STRIKE) != (mark.Strikes != "") {
		return fault.Invalid(path+".strikes", "names the mark that a strike takes back; only a strike has it, and every strike")
	}
	if mark.Strikes == "" {
		return nil
	}
	if !names.ValidID(mark.Strikes) {
		return fault.Invalid(path+".strikes", "must be the last part of a mark's name")
	}
	for _, one := range m.there {
		if names.Last(one.Name) != mark.Strikes {
			continue
		}
		if one.What == pb.Mark_STRIKE {
			return fault.Invalid(path+".strikes", "a strike is not struck; mark the rider again instead")
		}
		if one.Member != mark.Member {
			return fault.Invalid(path+".strikes", "is a mark of %s", names.Last(one.Member))
		}
	}
	return nil
}

// turnedBack tells that the rider of a mark had turned back by then, and so is home sooner than the others.
func (m *marking) turnedBack(mark *pb.Mark) bool {
	back := false
	for _, one := range rollcall.Counting(m.there) {
		if one.Member == mark.Member && !rollcall.At(one).After(rollcall.At(mark)) {
			switch one.What {
			case pb.Mark_TURNED_BACK:
				back = true
			case pb.Mark_IN_GROUP:
				back = false
			}
		}
	}
	return back
}

// setOff tells that somebody had set off by the time of a mark: a group may leave sooner than planned, and a rider fall before
// the planned start.
func (m *marking) setOff(mark *pb.Mark) bool {
	return slices.ContainsFunc(rollcall.Counting(m.there), func(one *pb.Mark) bool {
		return one.What == pb.Mark_SET_OFF && !rollcall.At(one).After(rollcall.At(mark))
	})
}

// endings are the marks that only a ride which has started can have.
var endings = map[pb.Mark_What]string{pb.Mark_HOME: "is home", pb.Mark_TURNED_BACK: "has turned back", pb.Mark_HANDED_OVER: "is handed over"}

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
	took := rollcall.At(mark).Sub(began)
	if took >= least {
		return ""
	}
	return fmt.Sprintf("home %.0f min after the start, sooner than the %.1f km could be ridden a quarter faster than the fastest group's pace, "+
		"which takes %.0f min; mark who turned back as turned-back, or look at the time", took.Minutes(), km, least.Minutes())
}

// settle counts the ride anew for the riders with a new mark: who rode it home, and how long the groups took.
func (s *rollCallService) settle(m *marking) error {
	for _, roll := range rollcall.Call(&pb.RollBasis{}, m.there, m.tx.Now).Riders {
		if !m.fresh[roll.Member] {
			continue
		}
		signup, err := m.tx.FindSignup(names.Last(m.ride.Name), names.Last(roll.Member))
		if err != nil {
			return err
		}
		if signup == nil {
			continue // no bike to count it for
		}
		if err := s.ridden(m.tx, m.ride, signup, roll.Rode); err != nil {
			return err
		}
	}
	if len(m.fresh) > 0 && m.ride.State != pb.Ride_CLOSED {
		if err := s.fill(m.tx, m.ride); err != nil { // who did not come leaves a place
			return err
		}
	}
	return s.recordTimes(m.tx, m.ride, m.there)
}

// ridden counts the ride for the bike and the member, once, or takes it away where the rider did not ride it home.
func (s *rollCallService) ridden(tx *ledger.Tx, ride *pb.Ride, signup *pb.Signup, rode bool) error {
	owner, id := names.Part(signup.Bike, "members"), names.Part(signup.Bike, "bikes")
	if err := notOnOthers(tx, ride, signup); err != nil {
		return err
	}
	km, was, err := riddenBefore(tx, ride, owner, id)
	if err != nil || was == rode {
		return err
	}
	member, err := tx.Member(names.Last(signup.Member))
	if err != nil {
		return err
	}
	if rode {
		wet, err := s.wetFor(tx, ride, member.Name)
		if err != nil {
			return err
		}
		ridden := &pb.RiddenRide{Ride: ride.Name, Day: ride.StartLocal[:len("2006-01-02")], Km: ride.Route.DistanceM / 1000, Wet: wet}
		if err := tx.SaveRidden(owner, id, ridden); err != nil {
			return err
		}
		km += ridden.Km
		member.RidesRidden++
	} else {
		if err := tx.DropRidden(owner, id, names.Last(ride.Name)); err != nil {
			return err
		}
		member.RidesRidden--
	}
	bike, err := tx.Bike(owner, id)
	if err != nil {
		return err
	}
	bike.RiddenKm = km
	if err := tx.SaveBike(bike); err != nil {
		return err
	}
	return tx.SaveMember(member)
}

// riddenBefore are the kilometres of a bike without those of a ride, and whether it counts that ride.
func riddenBefore(tx *ledger.Tx, ride *pb.Ride, owner, bike string) (km float64, was bool, err error) {
	return km, was, tx.Ridden(owner, bike, func(ridden *pb.RiddenRide) error {
		if ridden.Ride == ride.Name {
			was = true
		} else {
			km += ridden.Km
		}
		return nil
	})
}

// notOnOthers takes a ride away from every bike of the rider but the one signed up: the bike was changed after the ride had
// been counted.
func notOnOthers(tx *ledger.Tx, ride *pb.Ride, signup *pb.Signup) error {
	var others []*pb.Bike
	err := tx.Bikes(names.Last(signup.Member), "", 0, func(bike *pb.Bike) error {
		if bike.Name != signup.Bike {
			others = append(others, bike)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, bike := range others {
		owner, id := names.Part(bike.Name, "members"), names.Last(bike.Name)
		km, was, err := riddenBefore(tx, ride, owner, id)
		if err != nil {
			return err
		}
		if !was {
			continue
		}
		if err := tx.DropRidden(owner, id, names.Last(ride.Name)); err != nil {
			return err
		}
		bike.RiddenKm = km
		if err := tx.SaveBike(bike); err != nil {
			return err
		}
		member, err := tx.Member(owner)
		if err != nil {
			return err
		}
		member.RidesRidden--
		if err := tx.SaveMember(member); err != nil {
			return err
		}
	}
	return nil
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
