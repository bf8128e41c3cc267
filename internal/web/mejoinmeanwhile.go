package web

import (
	"net/url"
	"slices"
	"strconv"

	"gritward/internal/fault"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// signupFields are the fields of the form by which a member signs up, in the order of the page.
var signupFields = []string{"signup.bike", "signup.preferred_group", "signup.party", "signup.will_lead", "signup.will_mark_back"}

// readyWords are what a member may say of leading or marking the back, and the words for it.
var readyWords = []string{"", "as usual", "true", "ready to", "false", "not this time"}

// signupValues are the fields of the form as a sign-up has them; none: nothing in any.
func signupValues(signup *pb.Signup) url.Values {
	if signup == nil {
		return url.Values{}
	}
	values := url.Values{"signup.bike": {signup.Bike}, "signup.preferred_group": {signup.PreferredGroup}, "signup.party": {signup.Party}}
	for name, said := range map[string]*bool{"signup.will_lead": signup.WillLead, "signup.will_mark_back": signup.WillMarkBack} {
		if said != nil {
			values.Set(name, strconv.FormatBool(*said))
		}
	}
	return values
}

// parts are the fields of the form as they are compared.
func (j *joining) parts() (all []part) {
	for _, field := range signupFields {
		all = append(all, alone(field, func(value string) string { return j.told(field, value) }))
	}
	return all
}

// begin has a form begin with the sign-up that is there, and remember what that was, or that there is none.
func (j *joining) begin(form url.Values) {
	for field, value := range signupValues(j.Signup) {
		form[field] = value
	}
	j.remember(form)
}

// remember notes the sign-up that a form goes on from, or that there is none.
func (j *joining) remember(form url.Values) {
	goesOnFrom(form, "etag", j.Signup.GetEtag())
	rememberWas(form, signupValues(j.Signup), j.parts())
}

// meanwhile tells what of a sign-up was changed since its form was opened; nil when that is nothing that the form shows.
// The form then goes on from the sign-up as it is now: with what was typed, and with what stands now where nothing was.
func (j *joining) meanwhile(typed url.Values) error {
	const byWhom, kept = "while this form was open, on another device of yours or by a leader; ", "nothing you typed is lost. "
	met := &fault.Error{Reason: pb.Reason_CHANGED_MEANWHILE, Message: "your sign-up was changed " + byWhom + kept +
		"Look at what changed, then keep your change"}
	none := typed.Get(noneKnown) != ""
	switch {
	case j.Signup == nil:
		j.remember(typed)
		met.Message = "your sign-up was withdrawn " + byWhom + kept + "If you want to ride all the same, sign up again: you then stand last in the order of signing up"
		return met
	case none:
		met.Message = "you were signed up " + byWhom + kept + "Look at what stands now, then keep your change"
	}
	asked := slices.DeleteFunc(j.parts(), func(p part) bool { return !typed.Has(p.fields[0]) }) // who may not lead is not asked about it
	met.Fields = metIn(typed, signupValues(j.Signup), asked, none, "keep the change")
	j.remember(typed)
	if met.Fields == nil {
		return nil
	}
	return met
}

// told is the value of a field in words.
func (j *joining) told(field, value string) string {
	switch field {
	case "signup.bike":
		for _, bike := range j.Bikes {
			if bike.Name == value {
				return bike.Title
			}
		}
		return "a bike that is retired"
	case "signup.preferred_group":
		if value == "" {
			return "any that suits"
		}
		return phrase.FirstOf(groupTitles(j.Ride)[value], value)
	case "signup.party":
		return phrase.FirstOf(value, "nobody in particular")
	}
	for i := 0; i < len(readyWords); i += 2 {
		if readyWords[i] == value {
			return readyWords[i+1]
		}
	}
	return value
}
