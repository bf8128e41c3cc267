package cli

import (
	"fmt"

	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"gritward/internal/names"
	"gritward/internal/phrase"
	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

func (a *app) ridePlace() *cobra.Command {
	cmd := &cobra.Command{
		Use: "place RIDE", Short: "Compute who rides where; publishes nothing",
		Example: "  gritward ride place 2026-12-13-moors", Args: cobra.ExactArgs(1),
	}
	return a.online(cmd, func(s *session, args []string) error {
		ride, err := s.getRide(args[0])
		if err != nil {
			return err
		}
		answer, err := s.rides.PlaceRide(s.ctx, &pb.PlaceRideRequest{Name: ride.GetName()})
		if err != nil {
			return s.whyUnplaced(err, ride.GetName())
		}
		if a.json {
			return a.answer(answer, nil)
		}
		draft, err := s.draft(ride, answer)
		if err != nil {
			return err
		}
		return a.print(func(p *page) {
			p.roster(draft, render.RosterOnly)
			p.line("")
			p.para(0, "%s", scoreWords(answer)) // whether it is the best, the draft says
			layPublishable(p, draft)
		})
	})
}

// draft is a placement in the form of the roster that it would be, without a number, so that both look alike: with the
// ride's plan, and the policy that counts on its day.
func (s *session) draft(ride *pb.Ride, placement *pb.Placement) (*pb.Roster, error) {
	who, err := s.me()
	if err != nil {
		return nil, err
	}
	plan, err := s.rides.PlanRide(s.ctx, &pb.PlanRideRequest{Name: ride.GetName()})
	if err != nil {
		return nil, err
	}
	known, err := s.people()
	if err != nil {
		return nil, err
	}
	var moves []string
	for _, move := range placement.GetMoved() {
		moves = append(moves, move.GetWords())
	}
	return &pb.Roster{Ride: ride, Placement: placement, Plan: plan, Changes: moves,
		ClubTitle: who.GetClub().GetTitle(), Zone: who.GetClub().GetZone(), LeaderName: known.name(ride.GetLeader()),
		PolicyDigest: placement.GetPolicyDigest(), PolicyNumber: plan.GetPolicyNumber(), PolicyTitle: plan.GetPolicyTitle()}, nil
}

// layScore tells how good a placement is, and whether it is the best.
func layScore(p *page, placement *pb.Placement) {
	p.para(0, "%s %s", scoreWords(placement), phrase.Proof(placement))
}

// scoreWords tell how good a placement is, by its objectives in their order.
func scoreWords(placement *pb.Placement) string {
	return fmt.Sprintf("Placed %s; without a place %d; %s met; %s from the last issue.",
		count(int(placement.GetPlaced()), "rider", "riders"), len(placement.GetUnplaced()),
		wishesMet(placement), count(int(placement.GetMoves()), "move", "moves"))
}

// wishesMet is "2 of 4 wishes".
func wishesMet(placement *pb.Placement) string {
	met, all := int(placement.GetPreferencesMet()), int(placement.GetWishes())
	if all < met {
		return count(met, "wish", "wishes") // made before wishes were counted
	}
	return fmt.Sprintf("%d of %s", met, count(all, "wish", "wishes"))
}

// farOffKmh is from how far above a rider's own pace the leader is told to ask before the start.
const farOffKmh = 2 // common practice, no source

// layPaces tells who would ride well above their own pace; juniors with a sign before them.
func layPaces(p *page, placement *pb.Placement) {
	for _, group := range placement.GetGroups() {
		for _, row := range group.GetRows() {
			for _, rider := range []*pb.Rider{row.GetLeft(), row.GetRight()} {
				if rider.GetPaceOffKmh() < farOffKmh {
					continue
				}
				sign, who := "", rider.GetDisplayName()
				if rider.GetJunior() {
					sign, who = "! ", who+" (junior)"
				}
				p.para(0, "%s%s would ride %s km/h above own pace in %s: ask before the start.", sign, who,
					number(math.Round(10*rider.GetPaceOffKmh())/10), groupTitle(group.GetTitle(), group.GetGroup()))
			}
		}
	}
}

// layPublishable says what is to be done next with a draft.
func layPublishable(p *page, draft *pb.Roster) {
	id, placement := names.Last(draft.GetRide().GetName()), draft.GetPlacement()
	if placement.GetPlaced() == 0 {
		var why []string
		for _, idle := range placement.GetIdle() {
			if !slices.Contains(why, idle.GetWhy()) {
				why = append(why, idle.GetWhy())
			}
		}
		p.line("Nobody is placed, so there is nothing to publish%s.", prefixed(": ", strings.Join(why, "; ")))
		if hint := rolesHint(why); hint != "" {
			p.para(0, "Next: %s", hint)
		}
		return
	}
	limits := draft.GetPlan().GetCallOff()
	layPassed(p, limits)
	if len(limits) > 0 && draft.GetRide().GetReason() == "" {
		p.para(0, "Next: call it off (gritward ride call-off %s --reason TEXT), or write down why it goes out "+
			"(gritward ride change %s --reason TEXT) and place again", id, id)
		return
	}
	p.line("Next: gritward ride publish %s --basis %s", id, placement.GetBasis())
}

func groupTitle(title, id string) string {
	if title == "" {
		return id
	}
	return title
}

// rolesHint says how to get a leader or a back marker when that is what groups lack.
func rolesHint(why []string) string {
	lacks := func(what string) bool { return strings.Contains(strings.Join(why, "\n"), "no "+what) }
	leader, marker := lacks("leader"), lacks("back marker")
	may, will := "--may-lead", "--will-lead"
	switch {
	case !leader && !marker:
		return ""
	case leader && marker:
		may, will = "--may-lead or --may-mark-back", "--will-lead or --will-mark-back"
	case marker:
		may, will = "--may-mark-back", "--will-mark-back"
	}
	return "who is qualified joins with gritward ride join RIDE --bike BIKE " + will +
		"; a secretary says who is qualified: gritward member change MEMBER " + may
}

// whyUnplaced adds what to do to the refusal to place or publish: nobody has signed up, or roles are lacking.
func (s *session) whyUnplaced(err error, ride string) error {
	if !isReason(err, pb.Reason_WRONG_STATE) {
		return err
	}
	signups, listErr := s.rides.ListSignups(s.ctx, &pb.ListSignupsRequest{Parent: ride, PageSize: 1})
	if listErr == nil && len(signups.GetSignups()) == 0 {
		return hinted{"next: members join with gritward ride join " + names.Last(ride) + " --bike BIKE", err}
	}
	if made, ok := grpcStatus(err); ok {
		if hint := rolesHint(s.readRefusal(made).lines); hint != "" {
			return hinted{"next: " + hint, err}
		}
	}
	return err
}
