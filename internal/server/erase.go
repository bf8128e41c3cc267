package server

import (
	"context"
	"slices"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// onTheRoad is for how long after its start a ride that nobody closed counts as under way.
const onTheRoad = 24 * time.Hour

// EraseMember implements PersonalService.
func (s *personalService) EraseMember(ctx context.Context, request *pb.EraseMemberRequest) (*pb.EraseMemberResponse, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.MemberShape)
	if err != nil {
		return nil, err
	}
	response := &pb.EraseMemberResponse{}
	err = s.update(ctx, who, func(tx *ledger.Tx) error {
		response.Reset()
		member, err := tx.Member(ids[1])
		if err != nil || member.ErasedAt != nil {
			return err
		}
		if !sameName(request.DisplayName, member.DisplayName) {
			return fault.Invalid("display_name", "is not the name of this member; to confirm, type it as the club shows it")
		}
		if isSecretary(member) {
			if err := secretaryRemains(tx, member); err != nil {
				return err
			}
		}
		if err := s.erase(tx, member, false, response); err != nil {
			return err
		}
		return tx.Append(audit(who, "PersonalService/EraseMember", member.Name, "erased the member"))
	})
	if err != nil {
		return nil, err
	}
	s.erasures.settle(context.WithoutCancel(ctx)) // a client that is gone must not keep it from being done
	return response, nil
}

// erase takes everything about a member out of the club's records but the id. again: the member was erased before, and nothing
// is refused. It says what is left to do.
func (d *desk) erase(tx *ledger.Tx, member *pb.Member, again bool, left *pb.EraseMemberResponse) error {
	id := names.Last(member.Name)
	club, err := tx.ClubRecord()
	if err != nil {
		return err
	}
	zone, err := civil.Zone("club.zone", club.Zone)
	if err != nil {
		return err
	}
	var rides []*pb.Ride
	if err := tx.Rides("", 0, func(ride *pb.Ride) error { rides = append(rides, ride); return nil }); err != nil {
		return err
	}
	for _, ride := range rides {
		if err := underWay(tx, ride, id); err != nil && !again {
			return err
		}
	}
	who := roster.Erased{Member: member.Name, Name: member.DisplayName, Stands: ledger.FormerMember}
	for _, ride := range rides {
		if err := d.eraseFromRide(tx, ride, who, zone, left); err != nil {
			return err
		}
	}
	if err := tx.Wards(id, func(one *pb.Member) error {
		if one.Junior && one.Guardian == member.Name {
			left.Unguarded = append(left.Unguarded, one.Name)
		}
		return nil
	}); err != nil {
		return err
	}
	if err := withdrawInvitesOf(tx, member.Name); err != nil {
		return err
	}
	if err := tx.DropInvites(func(invite *pb.Invite) bool {
		return invite.AcceptedBy == member.Name || invite.ForMember == member.Name // not one for a namesake
	}); err != nil {
		return err
	}
	if wholeName(who) {
		if err := tx.RewriteNotes(func(record proto.Message) bool { return roster.ReplaceName(record, who.Name, who.Stands) }); err != nil {
			return err
		}
	}
	return tx.EraseOwned(id)
}

// underWay refuses to erase somebody who may be on the road: the roll call must name whoever is not home.
func underWay(tx *ledger.Tx, ride *pb.Ride, member string) error {
	since := tx.Now.Sub(ride.StartAt.AsTime())
	if since < 0 || since > onTheRoad || ride.State == pb.Ride_CLOSED || ride.State == pb.Ride_CALLED_OFF {
		return nil
	}
	signup, err := tx.FindSignup(names.Last(ride.Name), member)
	if err == nil && signup != nil && signup.State == pb.Signup_IN {
		err = fault.New(pb.Reason_WRONG_STATE, "the member is on %s, which is not closed yet: close it first, when everybody is home", ride.Title)
	}
	return err
}

// eraseFromRide takes a member out of a ride, its sign-ups, rosters and marks. A ride to come goes on without.
func (d *desk) eraseFromRide(tx *ledger.Tx, ride *pb.Ride, who roster.Erased, zone *time.Location, left *pb.EraseMemberResponse) error {
	id, member := names.Last(ride.Name), names.Last(who.Member)
	coming := tx.Now.Before(ride.StartAt.AsTime()) && ride.State != pb.Ride_CLOSED && ride.State != pb.Ride_CALLED_OFF
	if changed := eraseFromPlan(ride, who, coming, left); changed {
		if err := tx.SaveRide(ride); err != nil {
			return err
		}
	}
	signup, err := tx.FindSignup(id, member)
	if err != nil {
		return err
	}
	if signup != nil {
		if err := tx.DropSignup(id, member); err != nil {
			return err
		}
		if coming && signup.State != pb.Signup_WITHDRAWN {
			if err := d.fill(tx, ride); err != nil {
				return err
			}
			if err := tx.TellRide(&pb.AuditEntry{Method: "gritward.v1.RideService/WithdrawSignup", Resource: signup.Name, What: "withdrew"}); err != nil {
				return err
			}
		}
	}
	if err := eraseLetters(tx, id, who.Member); err != nil {
		return err
	}
	if err := tx.RewriteRosters(id, func(issue *pb.Roster) (bool, error) {
		return roster.Erase(issue, who, tx.Now, zone)
	}); err != nil {
		return err
	}
	if err := eraseFromIncidents(tx, id, who); err != nil {
		return err
	}
	if err := tx.RewriteNotices(id, func(notice *pb.Notice) (bool, error) {
		if slices.Contains(notice.Riders, who.Member) { // it tells of the rider's last mark and place
			notice.Text = "It told of a former member."
			return true, nil
		}
		return roster.ReplaceName(notice, who.Name, who.Stands), nil
	}); err != nil {
		return err
	}
	return tx.RewriteMarks(id, func(mark *pb.Mark) (bool, error) {
		if mark.Member == who.Member {
			had := mark.Note != "" || mark.LatDeg != nil || mark.LonDeg != nil
			mark.Note, mark.LatDeg, mark.LonDeg = "", nil, nil
			return had, nil
		}
		return wholeName(who) && roster.ReplaceName(mark, who.Name, who.Stands), nil
	})
}

// eraseLetters gives up the letters to a member that are queued, and blanks what mail servers said about them.
func eraseLetters(tx *ledger.Tx, ride, member string) error {
	var changed []*pb.Letter
	err := tx.Letters(ride, func(letter *pb.Letter) error {
		if letter.Member == member && (letter.State == pb.Letter_QUEUED || letter.Refusal != "") {
			changed = append(changed, letter)
		}
		return nil
	})
	for _, letter := range changed {
		if letter.Refusal = ""; letter.State == pb.Letter_QUEUED {
			letter.State, letter.Refusal = pb.Letter_GAVE_UP, "the member gets none any more"
		}
		if err == nil {
			err = tx.SaveLetter(letter)
		}
	}
	return err
}

// eraseFromPlan takes a member out of the record of a ride, and tells whether that changed it.
func eraseFromPlan(ride *pb.Ride, who roster.Erased, coming bool, left *pb.EraseMemberResponse) bool {
	changed := roster.StripRide(ride, who.Member)
	if ride.Leader == who.Member {
		changed = changed || ride.LeaderPhone != ""
		ride.LeaderPhone = ""
		if coming {
			left.Leaderless = append(left.Leaderless, ride.Name)
		}
	}
	for _, group := range ride.Groups {
		for _, role := range []*string{&group.Leader, &group.BackMarker} {
			if coming && *role == who.Member {
				*role, changed = "", true
			}
		}
	}
	if wholeName(who) {
		changed = roster.ReplaceName(ride, who.Name, who.Stands) || changed
	}
	return changed
}

// wholeName tells whether a name is looked for in what others wrote: one of a single word, "Rain", may be meant otherwise.
func wholeName(who roster.Erased) bool {
	return slices.Contains([]byte(strings.TrimSpace(who.Name)), ' ')
}
