package cli

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/names"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

func (a *app) rideLate() *cobra.Command {
	cmd := &cobra.Command{
		Use: "late RIDE [--start HH:MM]", Short: "What a late start does: who is out after dark, whose lights are no longer enough",
		Long: "Tells what it does when the ride starts at that time, or with --group one of its groups: dark and home before and\n" +
			"after, who stands worse and why, who would move if placed anew. Changes nothing, unless with --yes, which puts the\n" +
			"start back; the planned one stays in the record. --publish then places anew and publishes the next issue.\n" +
			"Until the first riders are marked set-off, everything may change; from then on the roll call tells who rides where.",
		Example: "  gritward ride late 2026-12-13-moors\n" +
			"  gritward ride late 2026-12-13-moors --start 09:25 --yes --publish",
		Args: cobra.ExactArgs(1),
	}
	flags := cmd.Flags()
	start := flags.String("start", "", "the late start, HH:MM on the day of the ride (default the next minute)")
	now := flags.Bool("now", false, "start in the next minute, which is the default")
	group := flags.String("group", "", "only this group starts late, by id")
	reason := flags.String("reason", "", "why, up to 300 characters")
	sure := flags.Bool("yes", false, "put the start back")
	publish := flags.Bool("publish", false, "with --yes: publish the next issue of the roster too")
	return a.online(cmd, func(s *session, args []string) error {
		switch {
		case *now && *start != "":
			return usagef("give one of --now and --start")
		case *publish && !*sure:
			return usagef("--publish goes with --yes")
		case *reason != "" && !*sure:
			return usagef("--reason goes with --yes")
		}
		zone, err := s.zone()
		if err != nil {
			return err
		}
		ride, err := s.getRide(args[0])
		if err != nil {
			return err
		}
		local := ""
		if *start != "" {
			if local, err = dayClock("start", *start, ride.GetStartAt(), zone); err != nil {
				return err
			}
		}
		late, err := s.starts.GetLateStart(s.ctx, &pb.GetLateStartRequest{Name: ride.GetName(), StartLocal: local, Group: *group})
		if err != nil {
			return err
		}
		if *sure {
			if late.Ride, err = s.putBack(late, *reason, *publish); err != nil {
				return err
			}
		}
		return a.answer(late, func(p *page) { layLate(p, late, zone, *sure, *publish) })
	})
}

// putBack puts the start back that was looked at, and publishes; it gives the ride after that.
func (s *session) putBack(late *pb.LateStart, reason string, publish bool) (*pb.Ride, error) {
	ride, err := s.starts.PutBackStart(s.ctx, &pb.PutBackStartRequest{Name: late.GetRide().GetName(), StartLocal: late.GetStartLocal(),
		Group: late.GetGroup(), Reason: reason, Etag: late.GetRide().GetEtag()})
	if err != nil || !publish {
		return ride, err
	}
	if _, err := s.rides.PublishRoster(s.ctx, &pb.PublishRosterRequest{Parent: ride.GetName(), RequestId: requestID()}); err != nil {
		return nil, fmt.Errorf("the start is put back to %s, and no issue is published: %w", spaced(late.GetStartLocal()), err)
	}
	return s.rides.GetRide(s.ctx, &pb.GetRideRequest{Name: ride.GetName()})
}

// dayClock is a civil time given as a clock time on the day of a ride's start, or with the date before it.
func dayClock(flag, text string, start *timestamppb.Timestamp, zone *time.Location) (string, error) {
	if _, _, ok := clockOf(text); ok {
		text = day(start, zone) + " " + text
	}
	local, err := localTime(flag, text)
	return local, orClock(err, "the day of the ride")
}

// layLate tells what a late start does, the dark first.
func layLate(p *page, late *pb.LateStart, zone *time.Location, done, published bool) {
	id := names.Last(late.GetRide().GetName())
	who := id
	if late.GetGroup() != "" {
		who += ", " + late.GetGroup()
	}
	clock := func(at time.Time) string { return at.In(zone).Format("15:04") }
	p.line("%s: start %s instead of %s.", who, clock(late.GetStartAt().AsTime()), clock(late.GetBeforeAt().AsTime()))
	var rows [][]string
	for _, group := range late.GetGroups() {
		before, after := group.GetBefore(), group.GetAfter()
		rows = append(rows, []string{group.GetTitle(), clock(after.GetStartAt().AsTime()),
			fromTo(clock(before.GetHomeAt().AsTime()), clock(after.GetHomeAt().AsTime())),
			fromTo(fmt.Sprintf("%.0f min", before.GetDarkMin()), fmt.Sprintf("%.0f min", after.GetDarkMin())),
			fromTo(fmt.Sprintf("%.0f min", before.GetLitMin()), fmt.Sprintf("%.0f min", after.GetLitMin())),
			fmt.Sprint(group.GetRiders())})
	}
	p.table([]string{"group", "start", "home", "dark", "lights needed", "riders"}, rows)
	for _, limit := range late.GetCallOff() {
		p.para(0, "! Calls for calling off: %s", limit)
	}
	for _, group := range late.GetGroups() {
		if after := group.GetAfter(); after.GetDarkMin() > group.GetBefore().GetDarkMin() {
			p.para(0, "! %s is out after dark for %.0f min, home %s.", group.GetTitle(), after.GetDarkMin(), clock(after.GetHomeAt().AsTime()))
		}
	}
	layWorse(p, late)
	if len(late.GetMoved()) > 0 {
		p.line("Placed anew, these would move:")
		for _, move := range late.GetMoved() {
			p.para(2, "%s", move.GetWords())
		}
	}
	layLateEnd(p, late, id, done, published)
}

// layWorse tells who stands worse, and by which rules; then what would help, each remedy once.
func layWorse(p *page, late *pb.LateStart) {
	riders, nobody := int32(0), true
	for _, group := range late.GetGroups() {
		riders += group.GetRiders()
		for _, rider := range group.GetWorse() {
			nobody = false
			p.para(0, "! %s, %s: %s; %s.", rider.GetDisplayName(), group.GetTitle(), worseWords(rider),
				fromTo(word(rider.GetBefore()), word(rider.GetAfter())))
			for _, finding := range rider.GetFindings() {
				p.para(2, "%s: needs %s; declared: %s.%s", finding.GetRule(), finding.GetNeeded(), phrase.Bare(finding.GetDeclared()), prefixed(" ", phrase.Sentence(finding.GetShortfall())))
			}
		}
	}
	switch {
	case riders == 0:
		p.line("Nobody has a place yet, so nobody can stand worse.")
	case nobody:
		p.line("Nobody stands worse.")
	}
	todo := phrase.LateToDo(late)
	if len(todo) > 0 {
		p.line("What to do:")
	}
	for _, one := range todo {
		p.para(2, "%s: %s", strings.Join(one.Who, ", "), one.What)
	}
}

func worseWords(rider *pb.LateRider) string {
	switch {
	case rider.GetLights():
		return "lights are no longer enough"
	case rider.GetBefore() == rider.GetAfter():
		return "falls short of one more rule"
	}
	return "stands worse"
}

func layLateEnd(p *page, late *pb.LateStart, id string, done, published bool) {
	_, clock, _ := strings.Cut(late.GetStartLocal(), "T")
	group := ""
	if late.GetGroup() != "" {
		group = " --group " + late.GetGroup()
	}
	switch {
	case published:
		p.line("The start is put back; issue %d is published.", late.GetRide().GetRosterNumber())
	case done:
		p.line("The start is put back.")
		p.line("Next: gritward ride publish %s", id)
	default:
		p.line("Nothing is changed.")
		p.line("Next: gritward ride late %s --start %s%s --yes --publish", id, clock, group)
	}
}

// fromTo is "15:40 to 16:05", or once where both are the same.
func fromTo(from, to string) string {
	if from == to {
		return from
	}
	return from + " to " + to
}
