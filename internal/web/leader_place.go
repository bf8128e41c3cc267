package web

import (
	"slices"
	"strings"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"gritward/internal/fault"
	"gritward/internal/names"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// proposal is who would ride where.
type proposal struct {
	led
	Placement *pb.Placement // nil: nobody can be placed, Why says why not
	Why       string
	Plan      *pb.RidePlan
	// Published is the newest issue; nil before the first.
	Published *pb.Roster
	Groups    []placedGroup
	// Same: the newest issue is this placement.
	Same bool
}

// Next is the number of the issue that would be published.
func (m proposal) Next() int32 { return m.Ride.RosterNumber + 1 }

// Placed is how many ride, in words.
func (m proposal) Placed() string {
	return phrase.Counted(int(m.Placement.GetPlaced()), "rider is", "riders are")
}

// LacksRoles tells that a group does not run since nobody leads it or marks its back.
func (m proposal) LacksRoles() bool {
	return slices.ContainsFunc(m.Placement.GetIdle(), func(one *pb.IdleGroup) bool {
		return strings.Contains(one.Why, "no leader") || strings.Contains(one.Why, "no back marker")
	})
}

// Conflicts are what cannot hold together, but for riders whose own bike alone is in the way: their findings tell that.
func (m proposal) Conflicts() (told []*pb.Conflict) {
	for _, one := range m.Placement.GetConflicts() {
		if !one.HeldOnly {
			told = append(told, one)
		}
	}
	return told
}

// OffLimits tells whether the weather breaks a limit, and no reason to go stands against it.
func (m proposal) OffLimits() bool { return len(m.Plan.GetCallOff()) > 0 && m.Ride.Reason == "" }

// Over tells whether the ride is called off or closed: nothing is placed any more.
func (m proposal) Over() bool {
	return m.Ride.State == pb.Ride_CALLED_OFF || m.Ride.State == pb.Ride_CLOSED
}

// proposed shows who would ride where.
func (v *visit) proposed() error {
	view, err := v.proposal()
	if err != nil {
		return err
	}
	return v.view("leader-place", "Who rides where", view)
}

// proposal places the riders as things stand now. What keeps anybody from being placed is no error: the page says it.
func (v *visit) proposal() (*proposal, error) {
	head, err := v.ledRide()
	if err != nil {
		return nil, err
	}
	v.w.Header().Set("Cache-Control", "private, no-store") // going back places anew, so that what is published shows as such
	view := &proposal{led: head}
	if view.Ride.RosterNumber > 0 {
		if view.Published, err = v.rides.GetRoster(v.ctx, &pb.GetRosterRequest{Name: view.Ride.Name + "/rosters/" + names.Any}); err != nil {
			return nil, err
		}
	}
	if view.Over() {
		return view, nil
	}
	if view.Plan, err = v.rides.PlanRide(v.ctx, &pb.PlanRideRequest{Name: view.Ride.Name}); err != nil {
		return nil, err
	}
	view.Placement, err = v.rides.PlaceRide(v.ctx, &pb.PlaceRideRequest{Name: view.Ride.Name})
	if problem := fault.Read(err); problem != nil {
		if problem.Reason != pb.Reason_WRONG_STATE && problem.Reason != pb.Reason_RIDE_OVER {
			return nil, err
		}
		view.Why = problem.Message
	}
	for _, group := range view.Placement.GetGroups() {
		view.Groups = append(view.Groups, v.placedGroup(view.Ride, group))
	}
	view.Same = view.Placement != nil && view.Published.GetPlacement().GetBasis() == view.Placement.Basis
	return view, nil
}

// publish publishes what was looked at, once however often it is sent; where something changed since, it is shown anew.
func (v *visit) publish() error {
	form := v.form()
	issue, err := v.rides.PublishRoster(v.ctx, &pb.PublishRosterRequest{Parent: v.ride(), Basis: form.Get("basis"), RequestId: form.Get("once")})
	if err == nil {
		return v.to("/"+issue.Name, "published")
	}
	problem := fault.Read(err)
	view, viewErr := v.proposal()
	if viewErr != nil {
		return viewErr
	}
	if problem.Reason == pb.Reason_WRONG_STATE && view.Same {
		return v.to("/"+view.Published.Name, "published-already")
	}
	v.refuse(err, "leader-place", "Who rides where", view)
	return nil
}

// giveReason writes down why the ride goes out against the policy's limits.
func (v *visit) giveReason() error {
	reason := strings.TrimSpace(v.form().Get("ride.reason"))
	err := error(fault.Invalid("ride.reason", "say why: it stands on the roster"))
	if reason != "" {
		_, err = v.rides.UpdateRide(v.ctx, &pb.UpdateRideRequest{Ride: &pb.Ride{Name: v.ride(), Etag: v.form().Get("etag"), Reason: reason},
			UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"reason"}}})
	}
	if err == nil {
		return v.to(v.below("place"), "reason-given")
	}
	view, viewErr := v.proposal()
	if viewErr != nil {
		return viewErr
	}
	v.refuse(err, "leader-place", "Who rides where", view)
	return nil
}
