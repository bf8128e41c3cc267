package web

import (
	"strings"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// pinView is the page on which a rider is fixed in a group, or that a group runs or does not.
type pinView struct {
	led
	Member  *pb.Member
	Signup  *pb.Signup
	Why     *pb.Explanation
	Group   *pb.Group
	Pin     *pb.GroupPin
	Idle    *pb.IdleGroup
	Against []string // hard rules against what was asked
	Held    bool     // a held bike is among them: the form asks to confirm that it rides
	For     string   // group that this is about
}

// Choice is the field of the group.
func (m *pinView) Choice(f Form) Field {
	pairs := groupPairs(m.Ride)
	pairs[1] = "choose"
	return f.Needed(f.Select("group", "Group", "", pairs...))
}

func (v *visit) pinView() (*pinView, error) {
	head, err := v.ledRide()
	if err != nil {
		return nil, err
	}
	view := &pinView{led: head}
	if id := v.r.PathValue("group"); id != "" {
		for _, group := range head.Ride.Groups {
			if group.Id == id {
				view.Group = group
			}
		}
		if view.Group == nil {
			return nil, fault.New(pb.Reason_NOT_FOUND, "the ride has no such group")
		}
		for _, pin := range head.Ride.GroupPins {
			if pin.Group == id {
				view.Pin = pin
			}
		}
		return view, nil
	}
	if view.Member, err = v.clubs.GetMember(v.ctx, &pb.GetMemberRequest{Name: v.memberNamed()}); err != nil {
		return nil, err
	}
	if view.Signup, err = v.signup(v.ride(), view.Member.Name); err != nil {
		return nil, err
	}
	if view.Signup == nil {
		return nil, fault.New(pb.Reason_NOT_FOUND, "%s has not signed up for this ride", view.Member.DisplayName)
	}
	view.Why, err = v.rides.ExplainPlace(v.ctx, &pb.ExplainPlaceRequest{Name: view.Signup.Name})
	if problem := fault.Read(err); problem != nil && problem.Reason != pb.Reason_WRONG_STATE && problem.Reason != pb.Reason_RIDE_OVER {
		return nil, err
	}
	return view, nil
}

// pinnedRider shows where a rider rides and why, and fixes the rider in a group.
func (v *visit) pinnedRider() error {
	view, err := v.pinView()
	if err != nil {
		return err
	}
	return v.view("leader-pin", view.Member.DisplayName, view)
}

// pinnedGroup fixes whether a group runs.
func (v *visit) pinnedGroup() error {
	view, err := v.pinView()
	if err != nil {
		return err
	}
	return v.view("leader-pin", groupTitle(view.Group), view)
}

func (v *visit) pinRider() error {
	form := v.form()
	view, err := v.pinView()
	if err != nil {
		return err
	}
	if form.Get("do") == "unpin" {
		if view.Signup.Pin == nil {
			return v.to(v.below("place"), "unpinned") // sent twice
		}
		_, err = v.rides.UnpinRider(v.ctx, &pb.UnpinRiderRequest{Parent: view.Ride.Name, Member: view.Member.Name})
		return v.pinDone(err, view, view.Member.DisplayName, "unpinned")
	}
	view.For = form.Get("group")
	if form.Get("held_for") != view.For { // who ticked it saw what is wrong in another group: it is asked anew
		form.Del("held_bike_rides")
	}
	_, err = v.rides.PinRider(v.ctx, &pb.PinRiderRequest{Parent: view.Ride.Name, Member: view.Member.Name, Group: form.Get("group"),
		Reason: strings.TrimSpace(form.Get("reason")), OverrideReason: strings.TrimSpace(form.Get("override_reason")),
		HeldBikeRides: form.Get("held_bike_rides") == "true"})
	return v.pinDone(err, view, view.Member.DisplayName, "pinned")
}

func (v *visit) pinGroup() error {
	form := v.form()
	view, err := v.pinView()
	if err != nil {
		return err
	}
	if form.Get("do") == "unpin" {
		if view.Pin == nil {
			return v.to(v.below("place"), "unpinned")
		}
		_, err = v.rides.UnpinGroup(v.ctx, &pb.UnpinGroupRequest{Parent: view.Ride.Name, Group: view.Group.Id})
		return v.pinDone(err, view, groupTitle(view.Group), "unpinned")
	}
	if runs := form.Get("runs"); runs != "true" && runs != "false" {
		err = fault.Invalid("runs", "choose whether it runs")
	} else {
		_, err = v.rides.PinGroup(v.ctx, &pb.PinGroupRequest{Parent: view.Ride.Name, Group: view.Group.Id, Runs: runs == "true",
			Reason: strings.TrimSpace(form.Get("reason")), OverrideReason: strings.TrimSpace(form.Get("override_reason"))})
	}
	return v.pinDone(err, view, groupTitle(view.Group), "pinned")
}

// pinDone goes back to the placement, or shows what is against the pin and how to set it aside.
func (v *visit) pinDone(err error, view *pinView, title, done string) error {
	if err == nil {
		return v.to(v.below("place"), done)
	}
	problem := problemOf(err)
	for _, limit := range problem.Limits {
		view.Against = append(view.Against, limit.What)
	}
	view.Held = problem.Reason == pb.Reason_HELD_BIKE || v.form().Get("held_bike_rides") == "true"
	v.refuse(err, "leader-pin", title, view)
	return nil
}
