package web

import (
	"fmt"
	"net/http"

	"google.golang.org/grpc/codes"

	"gritward/internal/fault"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// startLateView is what a late start does.
type startLateView struct {
	Ride *pb.Ride
	// Late is what it does; nil where it could not be reckoned.
	Late   *pb.LateStart
	Groups []*pb.Group
	// Clock is the late start as HH:MM, Group of which group alone; "": of all.
	Clock, Group string
	// Warnings come first, worst first.
	Warnings []string
	Worse    []lateRider
	// Nobody has a place yet.
	Nobody bool
	// Own: who is here may put the start back.
	Own bool
}

// ToDo is what would help those who stand worse.
func (v *startLateView) ToDo() []*phrase.ToDo { return phrase.LateToDo(v.Late) }

// lateRider is who stands worse with a late start, and what it falls short of.
type lateRider struct {
	Name, Group, What string
	Short             []string
}

// startLate shows what starting at a time, or now, does. It changes nothing.
func (v *visit) startLate() error {
	asked := v.r.URL.Query()
	view, err := v.lateView(asked.Get("clock"), asked.Get("group"))
	if view == nil {
		return err
	}
	if problem := fault.Read(err); problem != nil && asked.Get("clock") == "" && fault.Code(problem.Reason) != codes.Internal && problem.Reason != pb.Reason_NOT_SIGNED_IN {
		if problem.Reason == pb.Reason_FIELD_INVALID { // now is no time to start, and nobody said that it is
			return v.view("startlate", "Late start", view)
		}
		v.fill(http.StatusOK, "startlate", "Late start", view, problem) // nothing was asked yet; the page says why nothing can be
		return nil
	}
	if err != nil {
		v.refuse(err, "startlate", "Late start", view)
		return nil
	}
	return v.view("startlate", "Late start", view)
}

// lateView reckons a late start. With an error the view has what is needed to ask again; nil: the ride cannot be read.
func (v *visit) lateView(clock, group string) (*startLateView, error) {
	ride, err := v.rides.GetRide(v.ctx, &pb.GetRideRequest{Name: v.ride()})
	if err != nil {
		return nil, err
	}
	view := &startLateView{Ride: ride, Groups: ride.GetGroups(), Clock: clock, Group: group, Own: v.has(pb.Role_SECRETARY) || ride.GetLeader() == v.me()}
	local := ""
	if clock != "" {
		local = ride.GetStartLocal()[:len("2006-01-02T")] + clock
	}
	if view.Late, err = v.starts.GetLateStart(v.ctx, &pb.GetLateStartRequest{Name: v.ride(), StartLocal: local, Group: group}); err != nil {
		return view, err
	}
	view.Clock = view.Late.GetStartLocal()[len("2006-01-02T"):]
	watch := v.watch()
	for _, limit := range view.Late.GetCallOff() {
		view.Warnings = append(view.Warnings, "Calls for calling off: "+limit)
	}
	view.Nobody = true
	for _, one := range view.Late.GetGroups() {
		view.Nobody = view.Nobody && one.GetRiders() == 0
		if after := one.GetAfter(); after.GetDarkMin() > one.GetBefore().GetDarkMin() {
			view.Warnings = append(view.Warnings, fmt.Sprintf("%s is out after dark for %s, home %s.", one.GetTitle(), phrase.AtLeast(after.GetDarkMin()), watch.Clock(after.GetHomeAt())))
		}
		for _, rider := range one.GetWorse() {
			view.Worse = append(view.Worse, lateRiderOf(rider, one.GetTitle()))
		}
	}
	return view, nil
}

func lateRiderOf(rider *pb.LateRider, group string) lateRider {
	what := "stands worse"
	switch {
	case rider.GetLights():
		what = "lights are no longer enough"
	case rider.GetBefore() == rider.GetAfter():
		what = "falls short of one more rule"
	}
	if rider.GetBefore() != rider.GetAfter() {
		what += fmt.Sprintf(": %s %s, was %s", phrase.StandingShape(rider.GetAfter()), phrase.Standing(rider.GetAfter()), phrase.Standing(rider.GetBefore()))
	}
	made := lateRider{Name: rider.GetDisplayName(), Group: group, What: what}
	for _, finding := range rider.GetFindings() {
		made.Short = append(made.Short, fmt.Sprintf("Needs %s; %s", finding.GetNeeded(), phrase.Stopped(phrase.FirstOf(finding.GetShortfall(), finding.GetDeclared()))))
	}
	return made
}

// startPutBack puts a start back, and publishes the next issue where that was asked for. Where the start is put back and the
// issue is not published, it says so.
func (v *visit) startPutBack() error {
	form := v.form()
	clock, group := form.Get("clock"), form.Get("group")
	view, err := v.lateView(clock, group)
	if view == nil {
		return err
	}
	if err == nil && !view.Late.GetStartAt().AsTime().Equal(view.Late.GetBeforeAt().AsTime()) { // not put back already
		_, err = v.starts.PutBackStart(v.ctx, &pb.PutBackStartRequest{Name: v.ride(), StartLocal: view.Late.GetStartLocal(), Group: group, Reason: form.Get("reason"), Etag: form.Get("etag")})
	}
	if err == nil && form.Get("publish") == "true" {
		if _, err = v.rides.PublishRoster(v.ctx, &pb.PublishRosterRequest{Parent: v.ride(), RequestId: form.Get("once")}); err == nil {
			return v.to(v.startAt(""), "putback-published")
		}
		if fresh, _ := v.lateView(clock, group); fresh != nil {
			view = fresh
		}
		view.Warnings = append([]string{"The start is put back to " + clock + ", but no issue is published: see above."}, view.Warnings...)
	}
	if err != nil {
		v.refuse(err, "startlate", "Late start", view)
		return nil
	}
	return v.to(v.startAt(""), "putback")
}
