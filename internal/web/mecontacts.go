package web

import (
	"fmt"
	"net/url"
	"slices"
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
		rememberWas(form.Values, form.Values, contactParts())
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

// contactFields are what is said of a person to call.
var contactFields = []string{"contact_name", "phone", "relation"}

// contactParts are the fields of the contacts as they are compared: a person is one part, so that nobody stands there with another's
// number.
func contactParts() (all []part) {
	for i, place := range []string{"first", "second", "third"}[:mostContacts] {
		person := part{}
		for _, field := range contactFields {
			person.fields = append(person.fields, fmt.Sprintf("contacts.call[%d].%s", i, field))
		}
		person.told = func(values url.Values) string {
			said := slices.DeleteFunc(person.values(values, ""), func(value string) bool { return value == "" })
			return "to call " + place + " “" + asTyped(strings.Join(said, ", ")) + "”"
		}
		all = append(all, person)
	}
	return append(all, alone("contacts.medical_note", asTyped))
}

// setContacts says whom to call. A person of whom nothing is filled in is left out. Where the contacts were changed meanwhile, and are
// what was typed, it goes on.
func (v *visit) setContacts() error {
	v.r.PostForm = closedUp(v.form())
	err := v.saveContacts()
	if err == nil {
		return v.to("/"+v.asked()+"/contacts", "contacts")
	}
	page, unread := v.contactsView()
	if unread != nil {
		return unread
	}
	if problemOf(err).Reason == pb.Reason_CHANGED_MEANWHILE {
		goesOnFrom(v.form(), "contacts.etag", page.Contacts.GetEtag())
		if met := metIn(v.form(), filledFrom(page.Contacts, "contacts"), contactParts(), false, "keep it"); met != nil {
			err = changedOn("", met)
		} else if err = v.saveContacts(); err == nil {
			return v.to("/"+v.asked()+"/contacts", "contacts")
		}
	}
	v.refuse(err, "me-contacts", "Emergency contacts", page)
	return nil
}

func (v *visit) saveContacts() error {
	contacts := &pb.EmergencyContacts{}
	if err := fillIn(contacts, "contacts", v.form()); err != nil {
		return err
	}
	contacts.Name = names.Contacts(v.r.PathValue("club"), v.r.PathValue("member"))
	_, err := v.personal.SetEmergencyContacts(v.ctx, &pb.SetEmergencyContactsRequest{Contacts: contacts, NoneKnown: v.form().Get(noneKnown) != ""})
	return err
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
		for _, field := range contactFields {
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
