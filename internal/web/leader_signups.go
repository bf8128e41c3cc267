package web

import (
	"slices"

	"gritward/internal/fault"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// signupsView is who has signed up, as those see it who lead the ride.
type signupsView struct {
	led
	In      []entered
	Waiting []*pb.Signup
	// Others are members who have not signed up.
	Others others
}

// others are members who may be signed up for a ride.
type others struct {
	Ride    *pb.Ride
	Members []*pb.Member
}

// Whole is all that their list shows.
func (o others) Whole() (string, error) {
	parts := make([]string, 0, 1+2*len(o.Members))
	parts = append(parts, o.Ride.GetName())
	for _, one := range o.Members {
		parts = append(parts, one.Name, one.DisplayName)
	}
	return together(parts...), nil
}

// entered is a rider who has a place.
type entered struct {
	Ride *pb.Ride
	One  *pb.Signup
	// Wish and Pinned are titles of groups; empty: none.
	Wish, Pinned string
}

// Whole is all that the line of a rider shows.
func (e entered) Whole() (string, error) {
	parts := make([]string, 0, 16)
	parts = append(parts, e.Ride.GetName(), e.One.Member, e.One.DisplayName, e.One.GuestOf, e.Wish, e.One.Party, e.Pinned)
	for _, one := range e.One.Standings {
		parts = append(parts, one.Standing.String())
	}
	return together(parts...), nil
}

// titleIn is the title of a group of a ride, by its id.
func titleIn(ride *pb.Ride, id string) string {
	for _, group := range ride.GetGroups() {
		if group.Id == id {
			return groupTitle(group)
		}
	}
	return id
}

// allSignups lists the sign-ups of the ride that the path names, in the order of signing up.
func (v *visit) allSignups(request *pb.ListSignupsRequest) ([]*pb.Signup, error) {
	var all []*pb.Signup
	request.Parent, request.PageSize = v.ride(), 1000
	for {
		listed, err := v.rides.ListSignups(v.ctx, request)
		if err != nil {
			return nil, err
		}
		all = append(all, listed.Signups...)
		if request.PageToken = listed.NextPageToken; request.PageToken == "" {
			return all, nil
		}
	}
}

func (v *visit) signups() error {
	head, err := v.ledRide()
	if err != nil {
		return err
	}
	all, err := v.allSignups(&pb.ListSignupsRequest{WithoutFindings: true})
	if err != nil {
		return err
	}
	people, err := v.everybody()
	if err != nil {
		return err
	}
	view := signupsView{led: head, Others: others{Ride: head.Ride}}
	there := map[string]bool{}
	for _, one := range all {
		switch one.State {
		case pb.Signup_IN:
			view.In = append(view.In, entered{head.Ride, one, titleIn(head.Ride, one.PreferredGroup), titleIn(head.Ride, one.GetPin().GetGroup())})
		case pb.Signup_WAITING:
			view.Waiting = append(view.Waiting, one)
		default:
			continue
		}
		there[one.Member] = true
	}
	for _, one := range people {
		if !there[one.Name] && one.SuspendedAt == nil && one.ErasedAt == nil && !slices.Contains(one.Roles, pb.Role_GUEST) {
			view.Others.Members = append(view.Others.Members, one)
		}
	}
	return v.view("leader-signups", "Sign-ups", view)
}

// entryView is one sign-up, or that of a member who has not signed up yet.
type entryView struct {
	led
	Member *pb.Member
	Signup *pb.Signup // nil: not signed up
	Bikes  []*pb.Bike
	// Titles are those of the ride's groups, by id.
	Titles map[string]string
	Meant  bool
}

func (m entryView) filled(f *Form) {
	if len(f.Values) > 0 {
		return
	}
	if m.Signup != nil {
		f.Values = filledFrom(&pb.Signup{Bike: m.Signup.Bike, PreferredGroup: m.Signup.PreferredGroup, Party: m.Signup.Party,
			WillLead: m.Signup.WillLead, WillMarkBack: m.Signup.WillMarkBack}, "signup")
	}
	goesOnFrom(f.Values, "etag", m.Signup.GetEtag())
}

// Bike, Group, Lead and Mark are the fields of a sign-up.
func (m entryView) Bike(f Form) Field {
	pairs := []string{}
	for _, one := range m.Bikes {
		pairs = append(pairs, one.Name, one.GetDeclaration().GetFacts().GetTitle())
	}
	return f.Radio("signup.bike", "Bike", "", pairs...)
}

// Group is the field of the group wished for.
func (m entryView) Group(f Form) Field {
	return f.Select("signup.preferred_group", "Wishes to ride in", "", groupPairs(m.Ride)...)
}

// groupPairs are the groups of a ride to choose from, or any.
func groupPairs(ride *pb.Ride) []string {
	pairs := []string{"", "any group"}
	for _, group := range ride.GetGroups() {
		pairs = append(pairs, group.Id, groupTitle(group))
	}
	return pairs
}

func groupTitle(group *pb.Group) string {
	if group.GetTitle() != "" {
		return group.GetTitle()
	}
	return group.GetId()
}

// Lead is whether the rider is ready to lead.
func (m entryView) Lead(f Form) Field {
	return f.Select("signup.will_lead", "Ready to lead a group", "", "", "as qualified", "true", "yes", "false", "not this time")
}

// Mark is whether the rider is ready to mark the back.
func (m entryView) Mark(f Form) Field {
	return f.Select("signup.will_mark_back", "Ready to mark the back", "", "", "as qualified", "true", "yes", "false", "not this time")
}

func (v *visit) entryView() (*entryView, error) {
	head, err := v.ledRide()
	if err != nil {
		return nil, err
	}
	view := &entryView{led: head, Titles: map[string]string{}}
	for _, group := range head.Ride.Groups {
		view.Titles[group.Id] = groupTitle(group)
	}
	if view.Member, err = v.clubs.GetMember(v.ctx, &pb.GetMemberRequest{Name: v.memberNamed()}); err != nil {
		return nil, err
	}
	if view.Signup, err = v.signup(v.ride(), view.Member.Name); err != nil {
		return nil, err
	}
	listed, err := v.bikes.ListBikes(v.ctx, &pb.ListBikesRequest{Parent: view.Member.Name})
	if err != nil {
		return nil, err
	}
	for _, one := range listed.Bikes {
		if one.RetiredAt == nil {
			view.Bikes = append(view.Bikes, one)
		}
	}
	return view, nil
}

// entry shows one sign-up.
func (v *visit) entry() error {
	view, err := v.entryView()
	if err != nil {
		return err
	}
	return v.view("leader-entry", view.Member.DisplayName, *view)
}

// changeEntry signs a member up, or changes the sign-up that is there.
func (v *visit) changeEntry() error {
	view, err := v.entryView()
	if err != nil {
		return err
	}
	signup := &pb.Signup{}
	err = fillIn(signup, "signup", v.form())
	if err == nil && signup.Bike == "" {
		err = fault.Invalid("signup.bike", "choose a bike")
	}
	if err == nil {
		signup.Member, signup.Etag = view.Member.Name, v.form().Get("etag")
		_, err = v.rides.JoinRide(v.ctx, &pb.JoinRideRequest{Parent: view.Ride.Name, Signup: signup, RequestId: v.form().Get("once"),
			NoneKnown: v.form().Get(noneKnown) != ""})
	}
	if err != nil {
		v.goOnFrom(err, "etag", view.Signup.GetEtag())
		v.refuse(err, "leader-entry", view.Member.DisplayName, *view)
		return nil
	}
	return v.to(v.below("signups"), "entered")
}

// withdrawEntry withdraws a sign-up, once it was asked twice.
func (v *visit) withdrawEntry() error {
	view, err := v.entryView()
	if err != nil {
		return err
	}
	if v.form().Get("meant") != "yes" {
		view.Meant = true
		return v.view("leader-entry", view.Member.DisplayName, *view)
	}
	_, err = v.rides.WithdrawSignup(v.ctx, &pb.WithdrawSignupRequest{
		Name: names.Signup(v.r.PathValue("club"), v.r.PathValue("ride"), v.r.PathValue("member")), Etag: v.form().Get("etag")})
	if err != nil {
		v.refuse(err, "leader-entry", view.Member.DisplayName, *view)
		return nil
	}
	return v.to(v.below("signups"), "signup-withdrawn")
}

// guestView is the page on which a guest with a device is invited.
type guestView struct {
	led
	Invite *pb.Invite
	// Link is what the guest opens; empty where the invite was made before by the same form.
	Link string
}

func (v *visit) guestInvite() error {
	head, err := v.ledRide()
	if err != nil {
		return err
	}
	return v.view("leader-invite", "Invite a guest", guestView{led: head})
}

// inviteGuest makes an invite to this ride, and shows its link this once.
func (v *visit) inviteGuest() error {
	head, err := v.ledRide()
	if err != nil {
		return err
	}
	invite := &pb.Invite{}
	if err := fillIn(invite, "invite", v.form()); err != nil {
		v.refuse(err, "leader-invite", "Invite a guest", guestView{led: head})
		return nil
	}
	asked := &pb.Invite{DisplayName: invite.DisplayName, ForRide: head.Ride.Name, Roles: []pb.Role{pb.Role_GUEST}}
	made, err := v.clubs.CreateInvite(v.ctx, &pb.CreateInviteRequest{Parent: v.club(), Invite: asked, RequestId: v.form().Get("once")})
	if err != nil {
		v.refuse(err, "leader-invite", "Invite a guest", guestView{led: head})
		return nil
	}
	view := guestView{led: head, Invite: made}
	if made.Code != "" {
		view.Link = v.Address + "/join/" + made.Code
	}
	v.w.Header().Set("Cache-Control", "private, no-store")
	return v.view("leader-invite", "Invite a guest", view)
}

// Code is the QR code of the link.
func (m guestView) Code() any { return codeOf(m.Link) }
