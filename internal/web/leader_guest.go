package web

import (
	"strings"

	pb "gritward/proto/gritward/v1"
)

// guestForm is the page on which a guest without a device is signed up: the name, and the bike as whoever signs the guest up
// found it.
type guestForm struct {
	led
	Bike *declaring
}

// guestAlike tells that a guest who is signed up has a name that can be taken for another's.
type guestAlike struct {
	led
	Signup *pb.Signup
	Note   string
}

func (m *guestForm) filled(f *Form) {
	if len(f.Values) > 0 {
		m.Bike.values = f.Values
	}
	m.Bike.filled(f)
}

// Group is the field of the group wished for.
func (m *guestForm) Group(f Form) Field {
	return f.Select("preferred_group", "Wishes to ride in", "", groupPairs(m.Ride)...)
}

func (v *visit) guestForm(start string) (*guestForm, error) {
	head, err := v.ledRide()
	if err != nil {
		return nil, err
	}
	begun := beginningOf(start)
	return &guestForm{head, &declaring{Starts: beginnings, Start: begun.ID, values: begun.values("guest’s bike")}}, nil
}

// newGuest shows the form for a guest without a device.
func (v *visit) newGuest() error {
	form, err := v.guestForm(v.r.URL.Query().Get("start"))
	if err != nil {
		return err
	}
	return v.view("leader-guest", "Sign up a guest", form)
}

// addGuest signs a guest up, and certifies the guest's bike.
func (v *visit) addGuest() error {
	form, err := v.guestForm(v.form().Get("start"))
	if err != nil {
		return err
	}
	if pressed, err := v.lamps(form.Bike); pressed || err != nil {
		if err != nil {
			return err
		}
		v.r.PostForm = form.Bike.values
		return v.view("leader-guest", "Sign up a guest", form)
	}
	typed := v.form()
	read, err := readFacts(typed, v.today())
	var added *pb.AddGuestResponse
	if err == nil {
		added, err = v.rides.AddGuest(v.ctx, &pb.AddGuestRequest{Parent: form.Ride.Name, DisplayName: strings.TrimSpace(typed.Get("display_name")), Facts: read,
			PreferredGroup: typed.Get("preferred_group"), Party: strings.TrimSpace(typed.Get("party")), RequestId: typed.Get("once")})
	}
	if err != nil {
		v.refuse(err, "leader-guest", "Sign up a guest", form)
		return nil
	}
	if added.Note != "" { // told once: sent again, the form leads on
		return v.view("leader-guest-alike", "A name like another", guestAlike{form.led, added.Signup, added.Note})
	}
	return v.to(v.below("signups"), "guest-entered")
}
