package cli

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/names"
	"gritward/internal/phrase"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

func (a *app) rideRoll() *cobra.Command {
	cmd := &cobra.Command{
		Use: "roll RIDE", Short: "Who is out, who is home, who is overdue",
		Long: "Overdue riders first, then who else is not accounted for, then the others. Marks that are kept on this device are\n" +
			"sent first. Where the server cannot be reached, the roll call last read is told, with the marks of this device.\n" +
			rollcall.Emergency,
		Example: "  gritward ride roll 2026-12-13-moors", Args: cobra.ExactArgs(1),
	}
	return a.online(cmd, func(s *session, args []string) error {
		kept, reached, err := s.readRoll(args[0])
		if err != nil {
			return err
		}
		now := s.io.Now()
		if reached {
			call, err := s.rolls.GetRollCall(s.ctx, &pb.GetRollCallRequest{Name: kept.GetBasis().GetRide()})
			if err != nil {
				return err
			}
			return a.answer(call, func(p *page) { layRoll(p, call, true) })
		}
		call := rollcall.Call(kept.GetBasis(), kept.GetMarks(), now)
		_, requests, err := s.unsent()
		if err != nil {
			return err
		}
		s.say("The server cannot be reached: this is what was read last, and the marks of this device; %s not sent yet.",
			phrase.Counted(countMarks(requests), "mark", "marks"))
		return a.answer(call, func(p *page) { layRoll(p, call, false) })
	})
}

func layRoll(p *page, call *pb.RollCall, reached bool) {
	zone, err := time.LoadLocation(call.GetBasis().GetZone())
	if err != nil {
		zone = time.UTC
	}
	state := "open"
	if call.GetClosed() {
		state = "closed"
	}
	p.line("%s, roll call %s, at %s", call.GetBasis().GetTitle(), state, call.GetAsOf().AsTime().In(zone).Format("15:04"))
	titles := map[string]string{}
	var groups, riders [][]string
	for _, group := range call.GetGroups() {
		title := group.GetTitle()
		if group.GetGroup() == "" {
			title = "in no group"
		}
		titles[group.GetGroup()] = title
		groups = append(groups, []string{title, fmt.Sprint(group.GetRiders()), fmt.Sprint(group.GetNotSeen()), fmt.Sprint(group.GetSignedOn()),
			fmt.Sprint(group.GetOut()), fmt.Sprint(group.GetTurnedBack()), fmt.Sprint(group.GetHome() + group.GetHandedOver()),
			fmt.Sprint(group.GetDidNotCome()), fmt.Sprint(group.GetOverdue())})
	}
	p.list("nobody is in it", []string{"group", "riders", "not seen", "signed on", "out", "turned back", "home", "did not come", "overdue"}, groups)
	overdue := false
	for _, roll := range call.GetRiders() {
		word := rollcall.Word(roll.GetState())
		if roll.GetOverdue() {
			word, overdue = "OVERDUE: "+word, true
		}
		last := "–"
		if mark := roll.GetLast(); mark != nil {
			last = rollcall.At(mark).In(zone).Format("15:04")
			if mark.GetNumber() == 0 && !reached {
				last += ", not sent"
			}
		}
		riders = append(riders, []string{roll.GetDisplayName(), titles[roll.GetGroup()], word, last, roll.GetPlanned()})
	}
	p.line("")
	p.list("nobody has signed up or is marked", []string{"rider", "group", "where", "last mark", "the group by its plan"}, riders)
	for _, roll := range call.GetRiders() {
		for _, doubt := range roll.GetDoubts() {
			p.line("%s: %s", roll.GetDisplayName(), doubt)
		}
	}
	for _, doubt := range call.GetDoubts() {
		p.line("%s", doubt)
	}
	if overdue {
		p.line("%s", rollcall.Emergency)
	}
}

func (a *app) rideMarks() *cobra.Command {
	cmd := &cobra.Command{
		Use: "marks RIDE", Short: "Every mark of a ride's roll call, with the id by which it is struck",
		Example: "  gritward ride marks 2026-12-13-moors", Args: cobra.ExactArgs(1),
	}
	return a.online(cmd, func(s *session, args []string) error {
		kept, _, err := s.readRoll(args[0])
		if err != nil {
			return err
		}
		zone, err := time.LoadLocation(kept.GetBasis().GetZone())
		if err != nil {
			return err
		}
		known := expectedNames(kept.GetBasis())
		return a.answer(&pb.ListMarksResponse{Marks: kept.GetMarks()}, func(p *page) {
			var rows [][]string
			for _, mark := range kept.GetMarks() {
				what := word(mark.GetWhat())
				if mark.GetStrikes() != "" {
					what += " " + mark.GetStrikes()
				}
				rows = append(rows, []string{names.Last(mark.GetName()), known.name(mark.GetMember()), what, rollcall.At(mark).In(zone).Format("15:04"), mark.GetGroup(), mark.GetNote()})
			}
			p.list("no marks yet", []string{"mark", "rider", "what", "at", "group", "note"}, rows)
		})
	})
}

// expectedNames are the names of those in a roll call, by resource name.
func expectedNames(basis *pb.RollBasis) people {
	known := people{}
	for _, list := range [][]*pb.Expected{basis.GetRiders(), basis.GetOthers()} {
		for _, rider := range list {
			known[rider.GetMember()] = rider.GetDisplayName()
		}
	}
	return known
}

func (a *app) rideSync() *cobra.Command {
	cmd := &cobra.Command{
		Use: "sync RIDE", Short: "Send the marks kept on this device, and read the roll call to have it without the server",
		Example: "  gritward ride sync 2026-12-13-moors", Args: cobra.ExactArgs(1),
	}
	return a.online(cmd, func(s *session, args []string) error {
		kept, reached, err := s.readRoll(args[0])
		if err != nil {
			return err
		}
		_, requests, err := s.unsent()
		if err != nil {
			return err
		}
		if !reached {
			return fmt.Errorf("the server cannot be reached; %s kept on this device and not sent yet\n  next: the same again when it can", phrase.Counted(countMarks(requests), "mark", "marks"))
		}
		return a.answer(&pb.ListMarksResponse{Marks: kept.GetMarks()}, func(p *page) {
			unsent := "none is unsent"
			if n := countMarks(requests); n > 0 {
				unsent = phrase.Counted(n, "mark is", "marks are") + " not sent yet"
			}
			p.line("%s of the ride are on this device, and %s", phrase.Counted(len(kept.GetMarks()), "mark", "marks"), unsent)
		})
	})
}

func (a *app) rideClose() *cobra.Command {
	cmd := &cobra.Command{
		Use: "close RIDE", Short: "Close the roll call: everybody is accounted for",
		Long: "Closed is a group, or the ride, when everybody in it is home, handed over, or did not come. A secretary may close it all\n" +
			"the same with --reason, which is kept with who was not accounted for.",
		Example: "  gritward ride close 2026-12-13-moors --group steady\n  gritward ride close 2026-12-13-moors",
		Args:    cobra.ExactArgs(1),
	}
	group := cmd.Flags().String("group", "", "only this group, by id (default the ride)")
	reason := cmd.Flags().String("reason", "", "why, though somebody is not accounted for; for a secretary")
	return a.online(cmd, func(s *session, args []string) error {
		name, err := s.rideName(args[0])
		if err != nil {
			return err
		}
		if err := s.sendUnsent(); err != nil {
			return err
		}
		if *group != "" {
			call, err := s.rolls.CloseGroup(s.ctx, &pb.CloseGroupRequest{Name: name, Group: *group, Reason: *reason})
			if err != nil {
				return err
			}
			return a.answer(call, func(p *page) { p.line("closed %s of %s", *group, call.GetBasis().GetTitle()) })
		}
		ride, err := s.rolls.CloseRide(s.ctx, &pb.CloseRideRequest{Name: name, Reason: *reason})
		if err != nil {
			return err
		}
		return a.answer(ride, func(p *page) { p.line("closed %s", ride.GetTitle()) })
	})
}

func (a *app) rideReopen() *cobra.Command {
	cmd := &cobra.Command{
		Use: "reopen RIDE", Short: "Open the roll call of a ride and its groups again",
		Example: "  gritward ride reopen 2026-12-13-moors --reason \"Ida rang: she is out still\"", Args: cobra.ExactArgs(1),
	}
	reason := cmd.Flags().String("reason", "", "why, up to 300 characters")
	needs(cmd, "reason")
	return a.online(cmd, func(s *session, args []string) error {
		name, err := s.rideName(args[0])
		if err != nil {
			return err
		}
		ride, err := s.rolls.ReopenRide(s.ctx, &pb.ReopenRideRequest{Name: name, Reason: *reason})
		if err != nil {
			return err
		}
		return a.answer(ride, func(p *page) { p.line("opened %s again", ride.GetTitle()) })
	})
}

// tellOverdue tells, after any command, of riders who are overdue still and of whom the caller was told. What goes wrong with
// that is not the command's.
func (s *session) tellOverdue(failed error) {
	if s.json || failed != nil && s.who == nil { // perhaps nobody answers: do not wait a second time
		return
	}
	who, err := s.me()
	if err != nil {
		return
	}
	answer, err := s.rolls.ListNotices(s.ctx, &pb.ListNoticesRequest{Parent: who.GetMember().GetName(), OpenOnly: true})
	if err != nil {
		return
	}
	said := map[string]bool{}
	for _, notice := range answer.GetNotices() {
		ride, _, _ := strings.Cut(notice.GetName(), "/notices/")
		if !said[ride] {
			said[ride] = true
			s.say("told: %s overdue on %s; see gritward ride roll %s", phrase.Counted(len(notice.GetOpen()), "rider", "riders"), notice.GetRideTitle(), names.Last(ride))
		}
	}
}
