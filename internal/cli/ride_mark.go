package cli

import (
	"crypto/rand"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/names"
	"gritward/internal/phrase"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

// markFlags are the flags of a mark.
type markFlags struct {
	at, group, note string
	except          []string
	early           bool
}

func (a *app) rideMark() *cobra.Command {
	cmd := &cobra.Command{
		Use: "mark RIDE WHAT [MEMBER...]", Short: "Record what happened to riders on the day",
		Long: "Name who, or leave MEMBER out and name a whole --group.\n\n" +
			"WHAT is one of\n" +
			"  signed-on    at the start; of a whole group: all who have not set off\n" +
			"  looked-over  the bike was looked over; --note says what was found\n" +
			"  no-show      did not come; of a whole group: all not seen yet\n" +
			"  set-off      set off; one rider's mark tells when the group did\n" +
			"  in-group     counted in the group; with --group: rides in that one from then on, and its home times count\n" +
			"  turned-back  turned back or left; --note says with whom and where to\n" +
			"  handed-over  in somebody's care; --note says whose\n" +
			"  home         has ridden the ride, and its kilometres count for the bike\n\n" +
			"A whole group is whoever is with it, but those of --except: not who turned back, and not who was never seen, where\n" +
			"others were. Home sooner than the route can be ridden is refused without --early: who turned back is marked so.\n" +
			"Three or more at home tell how long the group took: see gritward ride times. Marks are added, never changed: the\n" +
			"newest by its own time counts, and a mistake is struck with gritward ride strike.\n\n" +
			"Where the server cannot be reached the marks stay on this device, with their time, and go with the next roll, mark\n" +
			"or sync; for that the roll call must have been read once. It does not replace calling the emergency services.",
		Example: "  gritward ride mark 2026-12-13-moors signed-on ida-holm osric-penhale\n" +
			"  gritward ride mark 2026-12-13-moors signed-on --group steady --except ida-holm\n" +
			"  gritward ride mark 2026-12-13-moors in-group ida-holm --at 11:20 --group easy\n" +
			"  gritward ride mark 2026-12-13-moors home --group steady --except ida-holm\n" +
			"  gritward ride mark 2026-12-13-moors turned-back ida-holm --at 11:40 --note \"with Osric, to the station\"",
		Args: cobra.MinimumNArgs(2),
	}
	set := &markFlags{}
	cmd.Flags().StringVar(&set.at, "at", "", "when, in the club's time: HH:MM on the day of the ride, or \"2026-12-13 11:40\" (default now)")
	cmd.Flags().StringVar(&set.group, "group", "", "by its id: the whole group to mark, where no MEMBER is named; with MEMBERs, the group that they ride in from then on")
	cmd.Flags().StringSliceVar(&set.except, "except", nil, "of a whole group, not these")
	cmd.Flags().BoolVar(&set.early, "early", false, "home sooner than the route can be ridden, and it is so")
	cmd.Flags().StringVar(&set.note, "note", "", "in words, up to 300 characters")
	return a.online(cmd, func(s *session, args []string) error {
		what, err := choiceOf("WHAT", args[1], pb.Mark_What(0).Descriptor())
		if err != nil {
			return err
		}
		if pb.Mark_What(what) == pb.Mark_STRIKE {
			return usagef("a mark is struck with gritward ride strike RIDE MARK")
		}
		kept, reached, err := s.readRoll(args[0])
		if err != nil {
			return err
		}
		request, err := s.markRequest(kept, reached, pb.Mark_What(what), args[2:], set)
		if err != nil {
			return err
		}
		return s.sendMarks(kept, request)
	})
}

// markRequest makes the marks that a command asks for.
func (s *session) markRequest(kept *pb.KeptRollCall, reached bool, what pb.Mark_What, refs []string, set *markFlags) (*pb.RecordMarksRequest, error) {
	if err := isGroupOf(kept.GetBasis(), set.group); err != nil {
		return nil, err
	}
	at, stated, err := s.markTime(set.at, kept.GetBasis())
	if err != nil {
		return nil, err
	}
	members, group := []string(nil), set.group
	for _, ref := range refs {
		member, err := s.rollMember(kept.GetBasis(), reached, ref)
		if err != nil {
			return nil, err
		}
		members = append(members, member)
	}
	switch {
	case len(refs) > 0 && len(set.except) > 0:
		return nil, usagef("--except goes with --group and without a MEMBER")
	case len(refs) == 0 && group == "":
		return nil, usagef("MEMBER is missing; name who, or a whole group with --group")
	case len(refs) == 0:
		if members, err = s.wholeGroup(kept, reached, what, set); err != nil {
			return nil, err
		}
		group = "" // they are in it
	}
	request := &pb.RecordMarksRequest{Parent: kept.GetBasis().GetRide(), Early: set.early}
	for _, member := range members {
		request.Marks = append(request.Marks, &pb.Mark{Name: request.GetParent() + "/marks/" + markID(), Member: member,
			What: what, At: at, TimeStated: stated, Note: set.note, Group: group})
	}
	return request, nil
}

// wholeGroup is who is with a group and not excepted.
func (s *session) wholeGroup(kept *pb.KeptRollCall, reached bool, what pb.Mark_What, set *markFlags) ([]string, error) {
	with := withGroup(rollcall.Call(kept.GetBasis(), kept.GetMarks(), s.io.Now()), set.group, what)
	for _, ref := range set.except {
		member, err := s.rollMember(kept.GetBasis(), reached, ref)
		if err != nil {
			return nil, err
		}
		with = slices.DeleteFunc(with, func(one string) bool { return one == member })
	}
	if len(with) == 0 {
		return nil, usagef("nobody is left in %s to mark; see gritward ride roll %s", set.group, names.Last(kept.GetBasis().GetRide()))
	}
	return with, nil
}

// withGroup is who of a group a mark is about that names nobody. Who was looked over counts as seen, and must not keep the
// others from being signed on; and nobody who was seen is a no-show.
func withGroup(call *pb.RollCall, group string, what pb.Mark_What) []string {
	var with, atStart, unseen []string
	for _, roll := range call.GetRiders() {
		switch {
		case roll.GetGroup() != group || roll.GetAccounted() || roll.GetState() == pb.RiderRoll_TURNED_BACK:
		case roll.GetState() == pb.RiderRoll_NOT_SEEN:
			unseen, atStart = append(unseen, roll.GetMember()), append(atStart, roll.GetMember())
		case roll.GetState() == pb.RiderRoll_SIGNED_ON:
			with, atStart = append(with, roll.GetMember()), append(atStart, roll.GetMember())
		default:
			with = append(with, roll.GetMember())
		}
	}
	switch {
	case what == pb.Mark_SIGNED_ON:
		return atStart
	case what == pb.Mark_NO_SHOW || len(with) == 0:
		return unseen
	}
	return with
}

// rollMember is the member meant: of the club, or without the server of those in the roll call last read.
func (s *session) rollMember(basis *pb.RollBasis, reached bool, ref string) (string, error) {
	if reached {
		return s.memberName(ref)
	}
	known := expectedNames(basis)
	for member := range known {
		if member == ref || names.Last(member) == ref {
			return member, nil
		}
	}
	found, err := meant(ref, known)
	if found == "" && err == nil {
		err = usagef("%q is nobody in the roll call last read; others can be marked when the server can be reached", ref)
	}
	return found, err
}

// sendMarks sends marks, or keeps them where the server cannot be reached, and tells which.
func (s *session) sendMarks(kept *pb.KeptRollCall, request *pb.RecordMarksRequest) error {
	zone, err := time.LoadLocation(kept.GetBasis().GetZone())
	if err != nil {
		return err
	}
	answer, err := s.record(request)
	if unreachable(err) {
		if err := s.keepUnsent(request); err != nil {
			return err
		}
		_, requests, err := s.unsent()
		if err != nil {
			return err
		}
		s.say("The server cannot be reached. %s kept on this device and not sent yet; they go with the next gritward ride roll, mark or sync.",
			phrase.Counted(countMarks(requests), "mark", "marks"))
		answer = &pb.RecordMarksResponse{Marks: request.GetMarks()}
	} else if err != nil {
		return err
	}
	known := expectedNames(kept.GetBasis())
	if all, err := s.people(); err == nil {
		known = all
	}
	return s.answer(answer, func(p *page) {
		for _, mark := range answer.GetMarks() {
			p.line("%s: %s at %s", known.name(mark.GetMember()), word(mark.GetWhat()), rollcall.At(mark).In(zone).Format("15:04"))
		}
	})
}

func (a *app) rideStrike() *cobra.Command {
	cmd := &cobra.Command{
		Use: "strike RIDE MARK", Short: "Take a mistaken mark back; it is kept, and counts no more",
		Example: "  gritward ride strike 2026-12-13-moors q3vxk2", Args: cobra.ExactArgs(2),
	}
	return a.online(cmd, func(s *session, args []string) error {
		kept, _, err := s.readRoll(args[0])
		if err != nil {
			return err
		}
		for _, mark := range kept.GetMarks() {
			if names.Last(mark.GetName()) != args[1] {
				continue
			}
			ride := kept.GetBasis().GetRide()
			return s.sendMarks(kept, &pb.RecordMarksRequest{Parent: ride, Marks: []*pb.Mark{{Name: ride + "/marks/" + markID(),
				Member: mark.GetMember(), What: pb.Mark_STRIKE, Strikes: args[1], At: timestamppb.New(s.io.Now())}}})
		}
		return usagef("there is no mark %q; gritward ride marks %s shows them", args[1], args[0])
	})
}

// isGroupOf refuses a group that a ride does not have; "" is none.
func isGroupOf(basis *pb.RollBasis, group string) error {
	if group == "" || slices.Contains(basis.GetGroups(), group) {
		return nil
	}
	return usagef("--group %q: the ride's groups are %s", group, strings.Join(basis.GetGroups(), ", "))
}

// markTime is when something happened: now by the device's clock, or as a person states it, a clock time on the day of the
// ride, or a date and time.
func (a *app) markTime(text string, basis *pb.RollBasis) (at *timestamppb.Timestamp, stated bool, err error) {
	if text == "" {
		return timestamppb.New(a.io.Now()), false, nil
	}
	zone, err := time.LoadLocation(basis.GetZone())
	if err != nil {
		return nil, false, err
	}
	local, err := dayClock("at", text, basis.GetStartAt(), zone)
	if err != nil {
		return nil, false, err
	}
	at, err = instantOf("at", local, zone)
	return at, true, err
}

// markID is an id that no other device chooses, so that a mark sent twice counts once.
func markID() string { return strings.ToLower(rand.Text()) }
