package web

import (
	"crypto/sha256"
	"encoding/hex"
	"net/url"
	"slices"
	"strings"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// editRide shows a ride as a form.
func (v *visit) editRide() error {
	form, err := v.editForm()
	if err != nil {
		return err
	}
	return v.view("leader-edit", "Edit the ride", form)
}

func (v *visit) editForm() (*rideForm, error) {
	head, err := v.ledRide()
	if err != nil {
		return nil, err
	}
	people, err := v.everybody()
	if err != nil {
		return nil, err
	}
	line, err := v.rides.GetRoute(v.ctx, &pb.GetRouteRequest{Name: head.Ride.Name})
	if err != nil {
		return nil, err
	}
	form := &rideForm{led: head, people: people, Waypoints: line.Waypoints}
	form.begun = rideFilled(head.Ride, v.who.GetClub().GetZone())
	for _, field := range rideFields {
		form.begun.Set("was."+field, digestOf(form.begun, field))
	}
	form.begun.Set("etag", head.Ride.Etag)
	return form, nil
}

// Was are the hidden fields that say what the form began with.
func (m *rideForm) Was(f Form) []Field {
	kept := []Field{{Name: "etag", Value: f.Values.Get("etag")}}
	for _, field := range rideFields {
		kept = append(kept, Field{Name: "was." + field, Value: f.Values.Get("was." + field)})
	}
	return kept
}

// changeRide changes the fields of a ride that were typed otherwise than they stood when the form was opened. What somebody
// else changed meanwhile is shown, and nothing that was typed is lost.
func (v *visit) changeRide() error {
	form, err := v.editForm()
	if err != nil {
		return err
	}
	again := func(err error) error {
		v.refuse(err, "leader-edit", "Edit the ride", form)
		return nil
	}
	typed := v.form()
	closeAll(typed)
	if typed.Get("more") != "" {
		return v.view("leader-edit", "Edit the ride", form)
	}
	ride, err := rideIn(typed, v.who.GetClub().GetZone(), form.Ride)
	if err != nil {
		return again(err)
	}
	request := &pb.UpdateRideRequest{Ride: ride, UpdateMask: &fieldmaskpb.FieldMask{Paths: touched(typed)}}
	file, err := v.file(routeField, maxFile)
	if err == nil && file != nil {
		request.RouteGpx, err = file.Bytes()
	}
	if err != nil {
		return again(err)
	}
	if typed.Get("etag") != form.Ride.Etag {
		if met := v.meanwhile(typed, form); met != nil {
			return again(met)
		}
	}
	if len(request.UpdateMask.Paths) == 0 && len(request.RouteGpx) == 0 {
		return v.to(v.below("edit"), "ride-same")
	}
	ride.Name, ride.Etag = form.Ride.Name, form.Ride.Etag
	if _, err := v.rides.UpdateRide(v.ctx, request); err != nil {
		return again(err)
	}
	if form.Ride.Forecast != nil && len(request.RouteGpx) > 0 {
		return v.to(v.below("plan"), "route-changed")
	}
	return v.to(v.below("plan"), "ride-changed")
}

// touched are the fields of a ride's form that were changed since it was opened.
func touched(typed url.Values) (fields []string) {
	for _, field := range rideFields {
		if digestOf(typed, field) != typed.Get("was."+field) {
			fields = append(fields, field)
		}
	}
	return fields
}

// meanwhile tells what somebody else changed of a ride since the form was opened; nil when that is nothing that the form shows.
// The form then goes on from the ride as it is now: with what was typed, and with what the other wrote where nothing was.
func (v *visit) meanwhile(typed url.Values, form *rideForm) error {
	mine := touched(typed)
	met := &fault.Error{Reason: pb.Reason_CHANGED_MEANWHILE,
		Message: "somebody else changed this ride while you were typing; nothing of yours is lost. Look at what changed, then save again"}
	for _, field := range rideFields {
		if form.begun.Get("was."+field) == typed.Get("was."+field) {
			continue
		}
		what := rideFieldWords[field] + ": " + v.nowStands(form, field)
		if slices.Contains(mine, field) {
			what += "; yours stands below, and takes its place when you save"
		} else {
			what += "; it is taken over below"
			replaceField(typed, form.begun, field)
		}
		met.Fields = append(met.Fields, fault.Field{Path: "ride." + field, What: what})
	}
	for _, name := range sortedKeys(form.begun) {
		if name == "etag" || strings.HasPrefix(name, "was.") {
			typed.Set(name, form.begun.Get(name))
		}
	}
	if met.Fields == nil {
		return nil
	}
	return met
}

// nowStands says how a field of a ride stands now.
func (v *visit) nowStands(form *rideForm, field string) string {
	var words []string
	for _, name := range fieldNames(form.begun, field) {
		value := form.begun.Get(name)
		if strings.HasSuffix(name, "].id") || strings.HasSuffix(name, ".from_local") {
			continue
		}
		for _, one := range form.people {
			if one.Name == value {
				value = one.DisplayName
			}
		}
		if strings.HasSuffix(field, "_local") || strings.HasSuffix(field, "_at") {
			value = strings.Replace(value, "T", " ", 1)
		}
		words = append(words, value+unitOf(name))
	}
	if len(words) == 0 {
		return "nothing now"
	}
	return "now “" + strings.Join(words, ", ") + "”"
}

// unitOf is the unit in which a form has a field, by its name.
func unitOf(name string) string {
	for end, unit := range map[string]string{inKm: " km", "minutes": " min", "_kmh": " km/h", "_min": " min", "_c": " °C", "_pct": " %", "visibility_m": " m", "_deg": "°"} {
		if strings.HasSuffix(name, end) {
			return unit
		}
	}
	return ""
}

// fieldNames are the fields of a form that belong to a field of a ride.
func fieldNames(form url.Values, field string) []string {
	return slices.DeleteFunc(sortedKeys(form), func(name string) bool {
		rest, ours := strings.CutPrefix(name, "ride."+field)
		return !ours || rest != "" && rest[0] != '.' && rest[0] != '['
	})
}

// replaceField puts what one form has of a field of a ride into another.
func replaceField(into, from url.Values, field string) {
	for _, name := range fieldNames(into, field) {
		into.Del(name)
	}
	for _, name := range fieldNames(from, field) {
		into.Set(name, from.Get(name))
	}
}

// digestOf tells one filling-in of a field from another.
func digestOf(form url.Values, field string) string {
	hash := sha256.New()
	for _, name := range fieldNames(form, field) {
		value := strings.Join(strings.Fields(form.Get(name)), " ")
		if strings.HasSuffix(name, "_local") || strings.HasSuffix(name, "_at") {
			value = civilOf(value)
		}
		if value != "" {
			hash.Write([]byte(name + "\x00" + value + "\x00"))
		}
	}
	return hex.EncodeToString(hash.Sum(nil)[:6])
}

// rideFieldWords name the fields of a ride for people.
var rideFieldWords = map[string]string{
	"title": "what it is called", "leader": "the leader", "start_local": "the start", "meeting_point": "where to meet", "groups": "the groups",
	"stops": "the stops", "hazards": "the hazards", "ways_out": "the ways out", "conditions": "the weather", "places": "the places",
	"signup_opens_at": "when sign-up opens", "signup_closes_at": "when sign-up closes", "reason": "the reason to go", "single_file": "single file",
	"leader_phone": "the telephone number", "recorded_times": "how times are reckoned",
}
