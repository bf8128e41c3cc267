package rollcall

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// Notices tells who is to be told now that riders are overdue: the ride's leader of each rider once, and so much later as the
// policy says each secretary, clubs/{club}/members/{member}, of those who are overdue still. told are the notices that were
// written before: of a rider who is in one, nobody is told again in the same step. The leader, if a secretary too, is told
// in both steps only where there is no other secretary. The notices have no name or number yet.
func Notices(call *pb.RollCall, told []*pb.Notice, secretaries []string) []*pb.Notice {
	before := map[pb.Notice_Step]map[string]bool{pb.Notice_LEADER: {}, pb.Notice_SECRETARY: {}}
	for _, notice := range told {
		for _, rider := range notice.GetRiders() {
			before[notice.GetStep()][rider] = true
		}
	}
	now, later := call.GetAsOf().AsTime(), call.GetBasis().GetThenSecretary().AsDuration()
	var forLeader, forSecretary []*pb.RiderRoll
	for _, roll := range call.GetRiders() {
		if !roll.GetOverdue() {
			continue
		}
		if !before[pb.Notice_LEADER][roll.GetMember()] {
			forLeader = append(forLeader, roll)
		}
		if !before[pb.Notice_SECRETARY][roll.GetMember()] && !now.Before(roll.GetDueAt().AsTime().Add(later)) {
			forSecretary = append(forSecretary, roll)
		}
	}
	leader := call.GetBasis().GetLeader()
	others := slices.DeleteFunc(slices.Clone(secretaries), func(member string) bool { return member == leader })
	if len(others) == 0 {
		others = secretaries
	}
	var notices []*pb.Notice
	add := func(step pb.Notice_Step, to string, rolls []*pb.RiderRoll) {
		if len(rolls) == 0 {
			return
		}
		notice := &pb.Notice{Step: step, To: to, At: timestamppb.New(now), Text: noticeText(call, rolls), RideTitle: call.GetBasis().GetTitle()}
		for _, roll := range rolls {
			notice.Riders = append(notice.Riders, roll.GetMember())
		}
		notices = append(notices, notice)
	}
	add(pb.Notice_LEADER, leader, forLeader)
	for _, secretary := range others {
		add(pb.Notice_SECRETARY, secretary, forSecretary)
	}
	return notices
}

// noticeText says who is overdue, the last mark of each, and where the group is by its plan. Notes of marks are left out:
// people write telephone numbers there, which never stand in a notice.
func noticeText(call *pb.RollCall, rolls []*pb.RiderRoll) string {
	ride := lastPart(call.GetBasis().GetRide())
	watch := phrase.WatchOf(call.GetBasis().GetZone(), call.GetAsOf())
	var b strings.Builder
	fmt.Fprintf(&b, "%s overdue on %s, at %s.\n", phrase.Counted(len(rolls), "rider is", "riders are"), call.GetBasis().GetTitle(),
		watch.Clock(call.GetAsOf()))
	for _, roll := range rolls {
		fmt.Fprintf(&b, "%s: %s.\n", roll.GetDisplayName(), strings.Join(Facts(roll, call.GetBasis()), "; "))
	}
	fmt.Fprintf(&b, "Ring them, and who rode with them. Emergency contacts: gritward ride contacts %s MEMBER.\n", ride)
	fmt.Fprintf(&b, "Mark who is home: gritward ride mark %s home MEMBER.\n", ride)
	b.WriteString(Emergency)
	return b.String()
}

// Emergency says what the roll call does not replace.
const Emergency = "If somebody may be hurt or lost, call the emergency services at once; this roll call does not do it for you."

// Facts says how it stands with a rider, in pieces: where, by which mark, and where the group is by its plan.
func Facts(roll *pb.RiderRoll, basis *pb.RollBasis) []string {
	watch := phrase.WatchOf(basis.GetZone(), roll.GetDueAt())
	facts := []string{Word(roll.GetState())}
	if last := roll.GetLast(); last != nil {
		facts = append(facts, "last mark "+lastMark(last, watch))
	} else {
		facts = append(facts, "no mark")
	}
	if title := groupTitle(basis, roll.GetGroup()); title != "" && roll.GetPlanned() != "" {
		facts = append(facts, title+" by its plan: "+roll.GetPlanned())
	}
	return facts
}

// lastMark says what was marked, when and where.
func lastMark(mark *pb.Mark, watch phrase.Watch) string {
	said := strings.ReplaceAll(strings.ToLower(mark.GetWhat().String()), "_", "-") + " at " + watch.Clock(timestamppb.New(At(mark).Truncate(time.Second)))
	if mark.LatDeg != nil && mark.LonDeg != nil {
		said += fmt.Sprintf(" at %.5f,%.5f", mark.GetLatDeg(), mark.GetLonDeg())
	}
	return said
}

func groupTitle(basis *pb.RollBasis, group string) string {
	for _, plan := range basis.GetPlans() {
		if plan.GetGroup() == group {
			return phrase.FirstOf(plan.GetTitle(), group)
		}
	}
	return ""
}
