package web

import (
	"gritward/internal/names"
	"gritward/internal/phrase"
	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

func (s *site) invitesRoutes() {
	s.show("GET /clubs/{club}/invites", (*visit).invites)
	s.take("/clubs/{club}/invites", (*visit).invite)
	s.take("/clubs/{club}/invites/{invite}/withdraw", (*visit).inviteWithdraw)
}

// invitesView are the open invites, and the form for another.
type invitesView struct {
	Open []*pb.Invite
	// Called are the names of members by those of their records.
	Called map[string]string
}

// openInvites are the invites that are still good; only secretaries may see them.
func (v *visit) openInvites() ([]*pb.Invite, error) {
	return pages(func(token string) ([]*pb.Invite, string, error) {
		answer, err := v.clubs.ListInvites(v.ctx, &pb.ListInvitesRequest{Parent: v.club(), PageSize: most, PageToken: token})
		return answer.GetInvites(), answer.GetNextPageToken(), err
	})
}

func (v *visit) invitesSeen() (shown invitesView, err error) {
	if shown.Open, err = v.openInvites(); err != nil {
		return shown, err
	}
	all, err := v.everyone()
	shown.Called = called(all)
	return shown, err
}

// invites lists the open invites, and asks for another.
func (v *visit) invites() error {
	shown, err := v.invitesSeen()
	if err != nil {
		return err
	}
	return v.view("invites", "Invites", shown)
}

// handed is an invite as it is handed over, this once.
type handed struct {
	Invite *pb.Invite
	// Link is what to open, Code the QR code of it; both empty where the invite was made before by the same form.
	Link string
	Code *render.Code
	// Whose is the member whom a further device is for.
	Whose string
	// Note says whom the name can be taken for.
	Note string
}

// invite makes an invite and shows its code, this once.
func (v *visit) invite() error {
	form := v.form()
	asked := &pb.Invite{}
	err := fillIn(asked, "invite", form)
	if err == nil {
		for _, role := range rolesIn(form) {
			if role != pb.Role_MEMBER {
				asked.Roles = append(asked.Roles, role)
			}
		}
		var made *pb.Invite
		if made, err = v.clubs.CreateInvite(v.ctx, &pb.CreateInviteRequest{Parent: v.club(), Invite: asked, RequestId: form.Get("once")}); err == nil {
			return v.handOver(made, "")
		}
	}
	shown, seenErr := v.invitesSeen()
	if seenErr != nil {
		return err
	}
	v.refuse(err, "invites", "Invites", shown)
	return nil
}

// deviceInvite makes an invite for one more device of a member.
func (v *visit) deviceInvite() error {
	member, err := v.clubs.GetMember(v.ctx, &pb.GetMemberRequest{Name: v.asked()})
	if err != nil {
		return err
	}
	made, err := v.clubs.CreateInvite(v.ctx, &pb.CreateInviteRequest{Parent: v.club(),
		Invite: &pb.Invite{ForMember: v.asked()}, RequestId: v.form().Get("once")})
	if err != nil {
		return v.memberRefused(err)
	}
	return v.handOver(made, member.DisplayName)
}

// handOver shows what is handed to the person invited. It is no page to come back to: the code is not kept anywhere.
func (v *visit) handOver(made *pb.Invite, whose string) error {
	shown := handed{Invite: made, Whose: whose}
	if made.Code != "" {
		shown.Link = v.Address + "/join/" + made.Code
		shown.Code = codeOf(shown.Link)
	}
	if made.Note != "" {
		all, err := v.everyone()
		if err != nil {
			return err
		}
		shown.Note = spelled(made.Note, called(all))
	}
	v.w.Header().Set("Cache-Control", "no-store")
	return v.view("invited", "Hand this over", shown)
}

// inviteWithdraw makes an invite's code worthless.
func (v *visit) inviteWithdraw() error {
	name := names.Invite(v.r.PathValue("club"), v.r.PathValue("invite"))
	if _, err := v.clubs.WithdrawInvite(v.ctx, &pb.WithdrawInviteRequest{Name: name}); err != nil {
		shown, seenErr := v.invitesSeen()
		if seenErr != nil {
			return err
		}
		v.refuse(err, "invites", "Invites", shown)
		return nil
	}
	return v.to("/"+v.club()+"/invites", "withdrawn")
}

// Roles are what somebody invited will be beside a member, as the beginning of a sentence; empty for nothing.
func (invitesView) Roles(invite *pb.Invite) string {
	roles := rolesOf(&pb.Member{Roles: invite.Roles})
	if invite.ForRide != "" {
		roles = "guest of one ride"
	}
	if invite.ForMember != "" {
		return ""
	}
	return phrase.Sentence(roles) + " "
}
