package cli

import (
	"bytes"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

func (a *app) rideCalendar() *cobra.Command {
	cmd := &cobra.Command{
		Use: "calendar RIDE FILE.ics", Short: "Write your place on a ride for your calendar",
		Long: "Writes an iCalendar file (RFC 5545): your group, its times, what to put right, and a reminder to charge the lights where\n" +
			"any are needed. Write it anew after a change, and open it again: your calendar brings its entry up to date, also when\n" +
			"you have withdrawn or the ride is called off. - writes to standard output.",
		Example: "  gritward ride calendar 2026-12-13-moors moors.ics\n" +
			"  gritward ride calendar 2026-12-13-moors moors.ics --overwrite",
		Args: cobra.ExactArgs(2),
	}
	a.writes(cmd)
	member := cmd.Flags().String("member", "", "whose place (default your own)")
	return a.online(cmd, func(s *session, args []string) error {
		entry, err := s.entry(args[0], *member)
		if err != nil {
			return err
		}
		var drawn bytes.Buffer
		if err := render.Calendar(&drawn, *entry, time.Now()); err != nil {
			return err
		}
		written := writtenFile{args[1], drawn.Len()}
		return a.deliver(args[1], drawn.Bytes(), written, func(p *page) { p.line("Written: %s", written.File) })
	})
}

// entry gathers what a member's calendar tells of a ride.
func (s *session) entry(ref, member string) (*render.Entry, error) {
	who, err := s.me()
	if err != nil {
		return nil, err
	}
	entry := &render.Entry{Club: who.GetClub().GetTitle(), Zone: who.GetClub().GetZone()}
	if entry.Member, err = s.memberName(member); err != nil {
		return nil, err
	}
	if entry.Ride, err = s.getRide(ref); err != nil {
		return nil, err
	}
	if entry.Ride.GetRosterNumber() > 0 {
		entry.Roster, err = s.getRoster(ref, 0)
	} else {
		entry.Plan, err = s.rides.PlanRide(s.ctx, &pb.PlanRideRequest{Name: entry.Ride.GetName()})
	}
	if err != nil {
		return nil, err
	}
	signups, err := s.signups(entry.Ride.GetName())
	if err != nil {
		return nil, err
	}
	for _, signup := range signups {
		if signup.GetMember() == entry.Member {
			entry.Signup, entry.Name = signup, signup.GetDisplayName()
		}
	}
	return entry, nil
}

// signups are all sign-ups of a ride.
func (s *session) signups(ride string) ([]*pb.Signup, error) {
	all, err := allPages(func(token string) ([]*pb.Signup, string, error) {
		page, err := s.rides.ListSignups(s.ctx, &pb.ListSignupsRequest{Parent: ride, PageSize: pageSize, PageToken: token})
		return page.GetSignups(), page.GetNextPageToken(), err
	})
	return all, s.withRides(err)
}
