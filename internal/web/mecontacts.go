package web

import (
	"fmt"
	"net/url"
	"strings"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// contactsView is whom to call about a member, and who has read it.
type contactsView struct {
	Member   string
	Contacts *pb.EmergencyContacts
	Readings []readingRow
	// People are the fields of each person to call.
	People [][]Field
	Note   Field
}

// readingRow is that somebody read the contacts.
type readingRow struct{ Who, Ride, At string }

// mostContacts is how many people to call a member may name.
const mostContacts = 3

func (c *contactsView) filled(form *Form) {
	if len(form.Values) == 0 && c.Contacts != nil {
		form.Values = filledFrom(c.Contacts, "contacts")
		goesOnFrom(form.Values, "contacts.etag", c.Contacts.Etag)
	}
	c.People = nil
	for i := range mostContacts {
		at := func(field string) string { return fmt.Sprintf("contacts.call[%d].%s", i, field) }
		phone := form.Text(at("phone"), "Telephone", "", 40)
		phone.Kind = "tel"
		c.People = append(c.People, []Field{
			form.Text(at("contact_name"), "Name", "", 100), phone, form.Text(at("relation"), "What they are to you", "", 40)})
	}
	c.Note = form.Area("contacts.medical_note", "What a first-aider should know", "An allergy, a medicine. Leave it empty if there is nothing.", 300)
}

func (v *visit) contactsView() (*contactsView, error) {
	found, err := v.personal.GetEmergencyContacts(v.ctx, &pb.GetEmergencyContactsRequest{Name: v.asked() + "/contacts"})
	if err != nil {
		return nil, err
	}
	listed, err := v.personal.ListContactReadings(v.ctx, &pb.ListContactReadingsRequest{Parent: v.asked()})
	if err != nil {
		return nil, err
	}
	page := &contactsView{Member: v.asked(), Contacts: found}
	for _, reading := range listed.Readings {
		page.Readings = append(page.Readings, readingRow{reading.ReaderName, reading.RideTitle, v.watch().Stamp(reading.At)})
	}
	return page, nil
}

// showContacts shows a member's emergency contacts, to the member alone.
func (v *visit) showContacts() error {
	page, err := v.contactsView()
	if err != nil {
		return err
	}
	return v.view("me-contacts", "Emergency contacts", page)
}

// setContacts says whom to call. A person of whom nothing is filled in is left out.
func (v *visit) setContacts() error {
	contacts := &pb.EmergencyContacts{}
	v.r.PostForm = closedUp(v.form())
	err := fillIn(contacts, "contacts", v.form())
	if err == nil {
		contacts.Name = names.Contacts(v.r.PathValue("club"), v.r.PathValue("member"))
		_, err = v.personal.SetEmergencyContacts(v.ctx, &pb.SetEmergencyContactsRequest{Contacts: contacts, NoneKnown: v.form().Get(noneKnown) != ""})
	}
	if err != nil {
		page, unread := v.contactsView()
		if unread != nil {
			return unread
		}
		v.goOnFrom(err, "contacts.etag", page.Contacts.GetEtag())
		v.refuse(err, "me-contacts", "Emergency contacts", page)
		return nil
	}
	return v.to("/"+v.asked()+"/contacts", "contacts")
}

// closedUp has the people to call stand without gaps: who is left empty between two others is left out.
func closedUp(form url.Values) url.Values {
	made, to := url.Values{}, 0
	for name, value := range form {
		if !strings.HasPrefix(name, "contacts.call[") {
			made[name] = value
		}
	}
	for i := range mostContacts {
		filled := false
		for _, field := range []string{"contact_name", "phone", "relation"} {
			value := form.Get(fmt.Sprintf("contacts.call[%d].%s", i, field))
			filled = filled || strings.TrimSpace(value) != ""
			made.Set(fmt.Sprintf("contacts.call[%d].%s", to, field), value)
		}
		if filled {
			to++
		}
	}
	return made
}
