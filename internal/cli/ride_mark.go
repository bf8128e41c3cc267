package cli

import (
	"crypto/rand"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

func (a *app) rideMark() *cobra.Command {
	cmd := &cobra.Command{
		Use: "mark RIDE WHAT MEMBER...", Short: "Record what happened to riders on the day",
		Long: "WHAT is one of " + strings.Join(markWords(), ", ") + ".\n" +
			"A rider marked home has ridden the ride, and its kilometres count for the bike; who is home\n" +
			"sooner than the route can be ridden has turned back, or say --early. Marks are added, never changed: the newest counts.\n" +
			"Who changes group on the way is marked in-group with --group: home times then count for that group.\n" +
			"One rider's set-off tells when the group set off, and three or more at home when it was: see gritward ride times.\n" +
			"--at is in the club's civil time: HH:MM on the day of the ride, or with the date before it.",
		Example: "  gritward ride mark 2026-12-13-moors signed-on ida-holm osric-penhale\n" +
			"  gritward ride mark 2026-12-13-moors in-group ida-holm --at 11:20 --group easy\n" +
			"  gritward ride mark 2026-12-13-moors turned-back ida-holm --at 11:40 --note \"with Osric, to the station\"",
		Args: cobra.MinimumNArgs(3),
	}
	at := cmd.Flags().String("at", "", "when: HH:MM on the day of the ride, or \"2026-12-13 11:40\" (default now)")
	group := cmd.Flags().String("group", "", "group that they ride in from then on, by id, where it is not that of the roster")
	early := cmd.Flags().Bool("early", false, "home sooner than the route can be ridden, and it is so")
	note := cmd.Flags().String("note", "", "in words, up to 300 characters")
	return a.online(cmd, func(s *session, args []string) error {
		zone, err := s.zone()
		if err != nil {
			return err
		}
		what, err := choiceOf("WHAT", args[1], pb.Mark_What(0).Descriptor())
		if err != nil {
			return err
		}
		ride, err := s.getRide(args[0])
		if err != nil {
			return err
		}
		if err := isGroupOf(ride, *group); err != nil {
			return err
		}
		when, err := a.markTime(*at, ride, zone)
		if err != nil {
			return err
		}
		request := &pb.RecordMarksRequest{Parent: ride.GetName(), Early: *early}
		for _, ref := range args[2:] {
			member, err := s.memberName(ref)
			if err != nil {
				return err
			}
			request.Marks = append(request.Marks, &pb.Mark{Name: ride.GetName() + "/marks/" + markID(), Member: member,
				What: pb.Mark_What(what), At: when, Note: *note, Group: *group})
		}
		answer, err := s.rolls.RecordMarks(s.ctx, request)
		if err != nil {
			return err
		}
		known, err := s.people()
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			for _, mark := range answer.GetMarks() {
				p.line("%s: %s at %s", known.name(mark.GetMember()), word(mark.GetWhat()), mark.GetAt().AsTime().In(zone).Format("15:04"))
			}
		})
	})
}

// isGroupOf refuses a group that a ride does not have; "" is none.
func isGroupOf(ride *pb.Ride, group string) error {
	var ids []string
	for _, one := range ride.GetGroups() {
		ids = append(ids, one.GetId())
	}
	if group == "" || slices.Contains(ids, group) {
		return nil
	}
	return usagef("--group %q: the ride's groups are %s", group, strings.Join(ids, ", "))
}

// markTime is when something happened: now, a clock time on the day of the ride, or a date and time.
func (a *app) markTime(text string, ride *pb.Ride, zone *time.Location) (*timestamppb.Timestamp, error) {
	if text == "" {
		return nil, nil // the server's now: a device's clock may be wrong
	}
	if _, _, ok := clockOf(text); ok {
		day, _, _ := strings.Cut(ride.GetStartLocal(), "T")
		text = day + " " + text
	}
	local, err := localTime("at", text)
	if err != nil {
		return nil, orClock(err, "the day of the ride")
	}
	return instantOf("at", local, zone)
}

// markID is an id that no other device chooses, so that a mark sent twice counts once.
func markID() string { return strings.ToLower(rand.Text()) }

func markWords() []string { return strictyaml.Words(pb.Mark_What(0).Descriptor()) }
