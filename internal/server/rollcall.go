package server

import (
	"context"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

// usualGrace is how long after the planned time home riders are overdue, and how much later secretaries are told, where the
// policy does not say: as RollCallLimits has it.
const usualGrace = 30 * time.Minute

// GetRollCall implements RollCallService.
func (s *rollCallService) GetRollCall(ctx context.Context, request *pb.GetRollCallRequest) (call *pb.RollCall, err error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.RideShape)
	if err != nil {
		return nil, err
	}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		ride, err := tx.Ride(ids[1])
		if err != nil {
			return err
		}
		call, err = s.rollCall(tx, ride)
		return err
	})
	return call, err
}

// rollCall tells how the roll call of a ride stands at the time of the transaction.
func (d *desk) rollCall(tx *ledger.Tx, ride *pb.Ride) (*pb.RollCall, error) {
	marks, err := marksOf(tx, names.Last(ride.Name))
	if err != nil {
		return nil, err
	}
	basis, err := d.rollBasis(tx, ride, marks)
	if err != nil {
		return nil, err
	}
	return rollcall.Call(basis, marks, tx.Now), nil
}

// rollBasis gathers what the roll call of a ride rests on beside its marks.
func (d *desk) rollBasis(tx *ledger.Tx, ride *pb.Ride, marks []*pb.Mark) (*pb.RollBasis, error) {
	id := names.Last(ride.Name)
	club, zone, err := d.zone(tx)
	if err != nil {
		return nil, err
	}
	basis := &pb.RollBasis{Ride: ride.Name, Title: ride.Title, Zone: club.Zone, Leader: ride.Leader, StartAt: ride.StartAt,
		Grace: durationpb.New(usualGrace), ThenSecretary: durationpb.New(usualGrace)}
	for _, group := range ride.Groups {
		basis.Groups = append(basis.Groups, group.Id)
	}
	used, _, err := d.policyOn(tx, ride.StartAt.AsTime(), zone)
	if ignoring(err, pb.Reason_NO_POLICY) != nil {
		return nil, err
	}
	if used != nil {
		basis.Grace, basis.ThenSecretary = durationpb.New(used.RollCall(usualGrace)), durationpb.New(used.SecretaryAfter(usualGrace))
	}
	placed, err := d.rollPlans(tx, ride, basis)
	if err != nil {
		return nil, err
	}
	signups, err := entered(tx, id)
	if err != nil {
		return nil, err
	}
	known := map[string]bool{}
	for _, signup := range signups {
		if signup.State != pb.Signup_IN {
			continue
		}
		rider, err := expected(tx, signup.Member)
		if err != nil {
			return nil, err
		}
		rider.Group, known[signup.Member] = placed[signup.Member], true
		basis.Riders = append(basis.Riders, rider)
	}
	for _, mark := range marks {
		if known[mark.Member] {
			continue
		}
		other, err := expected(tx, mark.Member)
		if err != nil {
			return nil, err
		}
		basis.Others, known[mark.Member] = append(basis.Others, other), true
	}
	return basis, tx.Closings(id, func(closing *pb.Closing) error {
		basis.Closings = append(basis.Closings, closing)
		return nil
	})
}

// rollPlans puts the plans of the groups into what a roll call rests on, and gives the group of each rider: those of the
// newest roster. Without one there are the plans as things stand, if there is a policy, and nobody is in a group. The plans are shared:
// do not change them.
func (d *desk) rollPlans(tx *ledger.Tx, ride *pb.Ride, basis *pb.RollBasis) (placed map[string]string, err error) {
	placed = map[string]string{}
	if ride.RosterNumber == 0 {
		g, err := d.ground(tx, names.Last(ride.Name))
		if err == nil {
			basis.Plans = g.plan.Groups
		}
		return placed, ignoring(err, pb.Reason_NO_POLICY)
	}
	issue, err := tx.PeekRoster(names.Last(ride.Name), ride.RosterNumber)
	if err != nil {
		return nil, err
	}
	for _, group := range issue.GetPlacement().GetGroups() {
		basis.Plans = append(basis.Plans, group.Plan)
		for _, row := range group.Rows {
			for _, rider := range []*pb.Rider{row.Left, row.Right} {
				if rider != nil {
					placed[rider.Member] = group.Group
				}
			}
		}
	}
	return placed, nil
}

// expected is a member in a roll call; one whose record is gone goes by the id.
func expected(tx *ledger.Tx, member string) (*pb.Expected, error) {
	found, err := tx.PeekMember(names.Last(member))
	if fault.Is(err, pb.Reason_NOT_FOUND) {
		return &pb.Expected{Member: member, DisplayName: names.Last(member)}, nil
	}
	return &pb.Expected{Member: member, DisplayName: found.GetDisplayName()}, err
}

// ListMarks implements RollCallService.
func (s *rollCallService) ListMarks(ctx context.Context, request *pb.ListMarksRequest) (*pb.ListMarksResponse, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.RideShape)
	if err != nil {
		return nil, err
	}
	response, size := &pb.ListMarksResponse{}, pageSize(request.PageSize)
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		if _, err := tx.Ride(ids[1]); err != nil {
			return err
		}
		return tx.MarksSince(ids[1], request.Since, size+1, func(mark *pb.Mark) error {
			if len(response.Marks) == size {
				response.More = true
				return nil
			}
			response.Marks = append(response.Marks, mark)
			return nil
		})
	})
	if err != nil {
		return nil, err
	}
	return response, nil
}
