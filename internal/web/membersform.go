package web

import (
	"net/url"
	"slices"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	pb "gritward/proto/gritward/v1"
)

// memberView is one member as a secretary sees it.
type memberView struct {
	Member  *pb.Member
	Devices []*pb.Device
	// Others are the members who can be guardian.
	Others []*pb.Member
	// Rides are those to come that the member leads, Guests those who ride under the member's name.
	Rides  []*pb.Ride
	Guests []*pb.Member
	// Mine: it is whoever looks.
	Mine bool
	// Here is the device that looks.
	Here string
}

// Roles are what the member is and may do.
func (m memberView) Roles() string { return rolesOf(m.Member) }

func (m memberView) filled(form *Form) {
	values := filledFrom(m.Member, "member")
	for name, role := range formRoles {
		if slices.Contains(m.Member.GetRoles(), role) {
			values.Set(name, "true")
		}
	}
	form.with(values)
}

// formRoles are the fields of forms that give a role.
var formRoles = map[string]pb.Role{"leader": pb.Role_LEADER, "secretary": pb.Role_SECRETARY}

// Ridden is how many rides of the club the member rode.
func (m memberView) Ridden() int { return int(m.Member.GetRidesRidden()) }

// Guardian asks for the guardian of a junior.
func (m memberView) Guardian(form Form) Field {
	pairs := []string{"", "nobody"}
	for _, other := range m.Others {
		if other.Name != m.Member.Name && !other.Junior && other.ErasedAt == nil && !slices.Contains(other.Roles, pb.Role_GUEST) {
			pairs = append(pairs, other.Name, other.DisplayName)
		}
	}
	return form.Select("member.guardian", "Guardian", "", pairs...)
}

// Fixed tells whether the member is a guest or was erased, so that nothing is to be changed.
func (m memberView) Fixed() bool {
	return m.Member.GetErasedAt() != nil || slices.Contains(m.Member.GetRoles(), pb.Role_GUEST)
}

// memberForm shows another member to a secretary.
func (v *visit) memberForm() error {
	shown, err := v.memberSeen()
	if err != nil {
		return err
	}
	return v.view("memberform", shown.Member.DisplayName, shown)
}

// memberSeen is all that a secretary sees of the member that the path names.
func (v *visit) memberSeen() (shown memberView, err error) {
	shown.Mine, shown.Here = v.asked() == v.me(), v.who.GetDevice().GetName()
	if shown.Member, err = v.clubs.GetMember(v.ctx, &pb.GetMemberRequest{Name: v.asked()}); err != nil {
		return shown, err
	}
	devices, err := v.clubs.ListDevices(v.ctx, &pb.ListDevicesRequest{Parent: v.asked()})
	if err != nil {
		return shown, err
	}
	shown.Devices = devices.Devices
	if shown.Others, err = v.everyone(); err != nil {
		return shown, err
	}
	for _, other := range shown.Others {
		if other.Host == v.asked() {
			shown.Guests = append(shown.Guests, other)
		}
	}
	shown.Rides, err = v.ledBy(v.asked())
	return shown, err
}

// ledBy are the rides to come that a member leads.
func (v *visit) ledBy(member string) (led []*pb.Ride, err error) {
	all, err := pages(func(token string) ([]*pb.Ride, string, error) {
		answer, err := v.rides.ListRides(v.ctx, &pb.ListRidesRequest{Parent: v.club(), PageSize: 100, PageToken: token})
		next := answer.GetNextPageToken()
		if n := len(answer.GetRides()); n > 0 && answer.Rides[n-1].StartAt.AsTime().Before(v.Now().AddDate(0, -1, 0)) {
			next = "" // latest first: what is older is over
		}
		return answer.GetRides(), next, err
	})
	for _, ride := range all {
		over := ride.State == pb.Ride_CLOSED || ride.State == pb.Ride_CALLED_OFF || ride.StartAt.AsTime().Before(v.Now())
		if ride.Leader == member && !over {
			led = append(led, ride)
		}
	}
	return led, err
}

// memberChange takes what a secretary changed of a member.
func (v *visit) memberChange() error {
	form := v.form()
	changed := &pb.Member{}
	err := fillIn(changed, "member", form)
	if err == nil {
		changed.Name, changed.Etag = v.asked(), form.Get("member.etag")
		changed.Roles = rolesIn(form)
		_, err = v.clubs.UpdateMember(v.ctx, &pb.UpdateMemberRequest{Member: changed, UpdateMask: &fieldmaskpb.FieldMask{
			Paths: []string{"display_name", "email", "roles", "may_lead", "may_mark_back", "junior", "guardian"}}})
	}
	if err != nil {
		return v.memberRefused(err)
	}
	return v.to("/"+v.asked(), "member-changed")
}

// memberRefused shows a member again, with what stood in the way of a change.
func (v *visit) memberRefused(why error) error {
	shown, err := v.memberSeen()
	if err != nil {
		return why
	}
	v.refuse(why, "memberform", shown.Member.DisplayName, shown)
	return nil
}

// rolesIn are the roles that a form gives a member.
func rolesIn(form url.Values) []pb.Role {
	roles := []pb.Role{pb.Role_MEMBER}
	for _, name := range []string{"leader", "secretary"} {
		if form.Get(name) == "true" {
			roles = append(roles, formRoles[name])
		}
	}
	return roles
}

// memberSuspendAsk says what a suspension does, before it is done.
func (v *visit) memberSuspendAsk() error {
	shown, err := v.memberSeen()
	if err != nil {
		return err
	}
	return v.view("suspend", "Suspend "+shown.Member.DisplayName, shown)
}

// memberSuspend suspends a member; the member's page then says what others must take over.
func (v *visit) memberSuspend() error {
	_, err := v.clubs.SuspendMember(v.ctx, &pb.SuspendMemberRequest{Name: v.asked(), Etag: v.form().Get("etag")})
	if err != nil {
		shown, seenErr := v.memberSeen()
		if seenErr != nil {
			return err
		}
		v.refuse(err, "suspend", "Suspend "+shown.Member.DisplayName, shown)
		return nil
	}
	return v.to("/"+v.asked(), "suspended")
}

// memberReinstate ends a suspension.
func (v *visit) memberReinstate() error {
	if _, err := v.clubs.ReinstateMember(v.ctx, &pb.ReinstateMemberRequest{Name: v.asked(), Etag: v.form().Get("etag")}); err != nil {
		return v.memberRefused(err)
	}
	return v.to("/"+v.asked(), "reinstated")
}

// deviceShut shuts a device out.
func (v *visit) deviceShut() error {
	device := v.asked() + "/devices/" + v.r.PathValue("device")
	if _, err := v.clubs.RevokeDevice(v.ctx, &pb.RevokeDeviceRequest{Name: device}); err != nil {
		return v.memberRefused(err)
	}
	return v.to("/"+v.asked(), "device-shut")
}
