package cli

import (
	"gritward/internal/fault"
	"gritward/internal/names"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

// stale finds what the newest issue of a ride's roster does not say yet, and gives what writes it, with what to do next.
func (s *session) stale(ride string) (lay func(p *page), err error) {
	lay = func(*page) {}
	if s.json { // the answer is the server's message, and nothing else
		return lay, nil
	}
	found, err := s.rides.GetRide(s.ctx, &pb.GetRideRequest{Name: ride})
	if err != nil || found.GetRosterNumber() == 0 {
		return lay, err
	}
	who, err := s.me()
	if err != nil {
		return lay, err
	}
	issue, err := s.rides.GetRoster(s.ctx, &pb.GetRosterRequest{Name: ride + "/rosters/" + names.Any})
	if err != nil || len(issue.GetSince()) == 0 {
		return lay, err
	}
	mine := found.GetLeader() == who.GetMember().GetName() || s.may(pb.Role_SECRETARY)
	return func(p *page) { layStale(p, issue, mine) }, nil
}

// passed gives what writes which call-off limits the ride passes as it is planned now.
func (s *session) passed(ride *pb.Ride) (lay func(p *page), err error) {
	lay = func(*page) {}
	if s.json || s.over(ride) {
		return lay, nil
	}
	plan, err := s.rides.PlanRide(s.ctx, &pb.PlanRideRequest{Name: ride.GetName()})
	if problem := fault.Read(err); problem != nil && problem.Reason == pb.Reason_NO_POLICY { // nothing limits it
		return lay, nil
	}
	return func(p *page) { layPassed(p, plan.GetCallOff()) }, err
}

// over tells whether a ride is called off, closed or long past.
func (s *session) over(ride *pb.Ride) bool {
	return ride.GetState() == pb.Ride_CALLED_OFF || rollcall.Past(ride, s.now())
}

// layPassed tells which call-off limits are passed.
func layPassed(p *page, limits []string) {
	for _, limit := range limits {
		p.para(0, "! Call-off limit passed: %s", limit)
	}
}

func layStale(p *page, issue *pb.Roster, mine bool) {
	id := names.Part(issue.GetName(), "rides")
	p.line("")
	p.line("Issue %d of the roster does not say yet:", issue.GetNumber())
	for _, change := range issue.GetSince() {
		p.para(2, "%s", spaced(change))
	}
	if mine {
		p.line("Next: gritward ride place %s, then gritward ride publish %s", id, id)
		return
	}
	p.line("Next: the ride leader publishes the next issue; if it is soon, tell the leader.")
}
