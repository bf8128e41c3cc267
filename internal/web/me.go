package web

import (
	"bytes"
	"errors"
	"io"
	"net/http"
	"strings"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"gritward/internal/names"
	"gritward/internal/phrase"
	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

func (s *site) meRoutes() {
	const member, ride = "/clubs/{club}/members/{member}", "/clubs/{club}/rides/{ride}"
	s.take(member, (*visit).changeMe)
	s.show("GET "+member+"/change", (*visit).memberForm)
	s.show("GET "+member+"/devices", (*visit).showDevices)
	s.take(member+"/devices/{device}/shut-out", (*visit).shutOut)
	s.take(member+"/devices/new", (*visit).inviteDevice)
	s.show("GET "+member+"/contacts", (*visit).showContacts)
	s.take(member+"/contacts", (*visit).setContacts)
	s.take(member+"/export", (*visit).export)
	s.show("GET "+member+"/erase", (*visit).askErase)
	s.take(member+"/erase", (*visit).erase)
	s.show("GET "+ride+"/join", (*visit).askJoin)
	s.take(ride+"/join", (*visit).joinRide)
	s.show("GET "+ride+"/signups/{member}", (*visit).place)
	s.take(ride+"/signups/{member}/withdraw", (*visit).withdraw)
	s.show("GET "+ride+"/signups/{member}/ride.ics", (*visit).calendar)
}

// meView is a member's own page.
type meView struct {
	*pb.Member
	// MayChange: the member is no guest.
	MayChange bool
	Roles     []string
	// Address is a field of the form.
	Address Field
}

func (m *meView) filled(form *Form) {
	if len(form.Values) == 0 {
		form.Values = filledFrom(m.Member, "member")
		rememberWas(form.Values, form.Values, meParts)
		form.Values.Set("etag", m.Etag)
	}
	m.Address = form.Text("member.email", "E-mail", "Rosters and changes are sent to it. Empty: nothing is sent.", 254)
	m.Address.Kind = "email"
}

// roleWords are what roles are called.
var roleWords = map[pb.Role]string{pb.Role_MEMBER: "member", pb.Role_LEADER: "leader", pb.Role_SECRETARY: "secretary", pb.Role_GUEST: "guest"}

func (v *visit) meView() *meView {
	page := &meView{Member: v.who.Member, MayChange: !v.has(pb.Role_GUEST)}
	for _, role := range v.who.Member.Roles {
		page.Roles = append(page.Roles, roleWords[role])
	}
	return page
}

// myself is one's own page.
func (v *visit) myself() error { return v.view("me", "Me", v.meView()) }

// meParts are the fields of the form by which members change what they may of themselves.
var meParts = []part{alone("member.display_name", asTyped), alone("member.pace_min_kmh", asTyped), alone("member.pace_max_kmh", asTyped),
	alone("member.email", asTyped), alone("member.name_public", func(value string) string { return phrase.FirstOf(map[string]string{"true": "yes"}[value], "no") })}

// changeMe changes what a member may change of the own record. Where it was changed meanwhile in what the form does not show, it
// goes on.
func (v *visit) changeMe() error {
	err := v.saveMe()
	if err != nil && v.asked() != v.me() {
		return err
	}
	if err != nil && problemOf(err).Reason == pb.Reason_CHANGED_MEANWHILE {
		v.form().Set("etag", v.who.Member.Etag)
		if met := metIn(v.form(), filledFrom(v.who.Member, "member"), meParts, false, "keep it"); met != nil {
			err = changedOn(" or by a secretary", met)
		} else {
			err = v.saveMe()
		}
	}
	if err != nil {
		v.refuse(err, "me", "Me", v.meView())
		return nil
	}
	return v.to("/"+v.asked(), "changed")
}

func (v *visit) saveMe() error {
	changed := &pb.Member{}
	if err := fillIn(changed, "member", v.form()); err != nil {
		return err
	}
	changed.Name, changed.Etag = v.asked(), v.form().Get("etag")
	_, err := v.clubs.UpdateMember(v.ctx, &pb.UpdateMemberRequest{Member: changed, UpdateMask: &fieldmaskpb.FieldMask{
		Paths: []string{"display_name", "pace_min_kmh", "pace_max_kmh", "email", "name_public"}}})
	return err
}

// devicesView are a member's devices.
type devicesView struct {
	Member string
	// Own: the member is who is here. Title is the page's.
	Own     bool
	Title   string
	Devices []deviceRow
	Out     []deviceRow
	// Link is the address that lets one more device in, Code its drawing; "" and nil: none was asked for.
	Link string
	Code *render.Code
	// Until is until when.
	Until string
}

// deviceRow is one device.
type deviceRow struct {
	*pb.Device
	Since, Used string
	// This: it is the one that is used now.
	This bool
}

func (v *visit) devicesView() (*devicesView, error) {
	listed, err := v.clubs.ListDevices(v.ctx, &pb.ListDevicesRequest{Parent: v.asked()})
	if err != nil {
		return nil, err
	}
	page := &devicesView{Member: v.asked(), Own: v.asked() == v.me(), Title: "My devices"}
	if !page.Own {
		member, err := v.clubs.GetMember(v.ctx, &pb.GetMemberRequest{Name: v.asked()})
		if err != nil {
			return nil, err
		}
		page.Title = "Devices of " + member.DisplayName
	}
	for _, device := range listed.Devices {
		row := deviceRow{device, v.watch().Date(device.CreatedAt), dayWords(device.LastUsedOn), device.Name == v.who.Device.GetName()}
		if device.RevokedAt != nil {
			page.Out = append(page.Out, row)
		} else {
			page.Devices = append(page.Devices, row)
		}
	}
	return page, nil
}

// showDevices lists the devices on which a member is signed in.
func (v *visit) showDevices() error {
	page, err := v.devicesView()
	if err != nil {
		return err
	}
	return v.view("me-devices", page.Title, page)
}

// shutOut shuts a device out.
func (v *visit) shutOut() error {
	name := names.Device(v.r.PathValue("club"), v.r.PathValue("member"), v.r.PathValue("device"))
	if name == v.who.Device.GetName() {
		return v.leave()
	}
	if _, err := v.clubs.RevokeDevice(v.ctx, &pb.RevokeDeviceRequest{Name: name}); err != nil {
		return err
	}
	return v.to("/"+v.asked()+"/devices", "shut-out")
}

// inviteDevice shows once how to let a further device in.
func (v *visit) inviteDevice() error {
	made, err := v.clubs.InviteDevice(v.ctx, &pb.InviteDeviceRequest{Parent: v.asked()})
	if err != nil {
		return err
	}
	page, err := v.devicesView()
	if err != nil {
		return err
	}
	page.Link = strings.TrimSuffix(v.Address, "/") + "/join/" + made.Code
	page.Code, page.Until = codeOf(page.Link), v.watch().Time(made.ExpiresAt.AsTime())
	v.w.Header().Set("Cache-Control", "no-store") // it lets somebody in
	return v.view("me-devices", "One more device", page)
}

// export gives a member everything that the club keeps about them.
func (v *visit) export() error {
	stream, err := v.personal.ExportMember(v.ctx, &pb.ExportMemberRequest{Name: v.asked()})
	if err != nil {
		return err
	}
	var archive bytes.Buffer
	for {
		piece, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		archive.Write(piece.Data)
	}
	v.keepFile("application/zip", "about-me.zip", archive.Bytes())
	return nil
}

// erasing is the page on which somebody is erased: oneself, or as a secretary another.
type erasing struct {
	*pb.Member
	Own bool
}

func (e *erasing) title() string {
	if e.Own {
		return "Erase me"
	}
	return "Erase " + e.DisplayName
}

func (v *visit) erasing() (*erasing, error) {
	found, err := v.clubs.GetMember(v.ctx, &pb.GetMemberRequest{Name: v.asked()})
	return &erasing{found, v.asked() == v.me()}, err
}

// askErase says what erasing does, and asks for the name.
func (v *visit) askErase() error {
	page, err := v.erasing()
	if err != nil {
		return err
	}
	return v.view("me-erase", page.title(), page)
}

// erase erases everything about a member.
func (v *visit) erase() error {
	page, err := v.erasing()
	if err != nil {
		return err
	}
	_, err = v.personal.EraseMember(v.ctx, &pb.EraseMemberRequest{Name: v.asked(), DisplayName: v.form().Get("display_name")})
	if err != nil {
		v.refuse(err, "me-erase", page.title(), page)
		return nil
	}
	if !page.Own {
		return v.to("/"+v.club()+"/members", "erased")
	}
	v.forget()
	v.put(http.StatusOK, "plain", "Erased", "Everything about you is gone from the club’s store. This device is signed out.")
	return nil
}
