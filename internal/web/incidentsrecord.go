package web

import (
	"net/url"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// recordView asks what happened on a ride.
type recordView struct {
	Ride   *pb.Ride
	Riders []*pb.Member
	// Begun is when the ride started, as the form has times.
	Begun string
}

func (r recordView) filled(form *Form) {
	form.with(url.Values{"incident.happened_local": {r.Begun}})
}

// When asks when it happened.
func (recordView) When(form Form) Field {
	field := form.field("datetime-local", "incident.happened_local", "When", "On the day of the ride or the two after it.")
	field.Needed = true
	return field
}

// Kind asks what happened, in kind.
func (recordView) Kind(form Form) Field {
	pairs := []string{}
	for kind := pb.Incident_FALL; kind <= pb.Incident_OTHER; kind++ {
		pairs = append(pairs, kind.String(), kindWords[kind])
	}
	return form.Radio("incident.kind", "What happened", "", pairs...)
}

// Done asks what was done.
func (recordView) Done(form Form) (fields []Field) {
	for action := pb.Incident_AMBULANCE; action <= pb.Incident_RODE_ON; action++ {
		fields = append(fields, form.Check("done."+action.String(), phrase.Bare(phrase.Sentence(doneWords[action])), ""))
	}
	return fields
}

// Who asks for riders of the ride.
func (r recordView) Who(form Form, what string) (fields []Field) {
	for _, rider := range r.Riders {
		fields = append(fields, form.Check(what+"."+rider.Name, rider.DisplayName, ""))
	}
	return fields
}

// incidentAsk asks what happened on a ride.
func (v *visit) incidentAsk() error {
	shown, err := v.recordSeen()
	if err != nil {
		return err
	}
	return v.view("incidentrecord", "Write down what happened", shown)
}

func (v *visit) recordSeen() (shown recordView, err error) {
	if shown.Ride, err = v.rides.GetRide(v.ctx, &pb.GetRideRequest{Name: v.ride()}); err != nil {
		return shown, err
	}
	shown.Begun = shown.Ride.StartLocal[:min(len(shown.Ride.StartLocal), len("2026-12-13T09:00"))]
	signed, err := pages(func(token string) ([]*pb.Signup, string, error) {
		answer, err := v.rides.ListSignups(v.ctx, &pb.ListSignupsRequest{Parent: v.ride(), PageSize: most, PageToken: token, WithoutStandings: true})
		return answer.GetSignups(), answer.GetNextPageToken(), err
	})
	if err != nil {
		return shown, err
	}
	riding := map[string]bool{}
	for _, one := range signed {
		if one.State == pb.Signup_IN {
			riding[v.club()+"/members/"+one.Name[strings.LastIndexByte(one.Name, '/')+1:]] = true
		}
	}
	all := []*pb.Member{v.who.GetMember()} // a guest may not see the others
	if !v.has(pb.Role_GUEST) {
		if all, err = v.everyone(); err != nil {
			return shown, err
		}
	}
	for _, member := range all {
		if riding[member.Name] {
			shown.Riders = append(shown.Riders, member)
		}
	}
	return shown, nil
}

// incidentRecord writes an incident down.
func (v *visit) incidentRecord() error {
	form, made := v.form(), &pb.Incident{}
	err := fillIn(made, "incident", form)
	if km := strings.TrimSpace(form.Get("at_km")); km != "" && err == nil {
		err = atKm(made, km)
	}
	if err == nil {
		made.Account = unix(form.Get("incident.account"))
		for action := pb.Incident_AMBULANCE; action <= pb.Incident_RODE_ON; action++ {
			if form.Get("done."+action.String()) == "true" {
				made.Done = append(made.Done, action)
			}
		}
		made.Concerned, made.Saw = peopleIn(form, "concerned"), peopleIn(form, "saw")
		made.Photographs = lined(form.Get("photographs"))
		var kept *pb.Incident
		if kept, err = v.incidents.RecordIncident(v.ctx, &pb.RecordIncidentRequest{Parent: v.ride(), Incident: made, RequestId: form.Get("once")}); err == nil {
			return v.to("/"+kept.Name, "incident-kept")
		}
	}
	shown, seenErr := v.recordSeen()
	if seenErr != nil {
		return err
	}
	v.refuse(err, "incidentrecord", "Write down what happened", shown)
	return nil
}

// atKm takes where it happened in km.
func atKm(made *pb.Incident, km string) error {
	read := &pb.Incident{}
	if what := fillOne(read.ProtoReflect(), "at_distance_m", km); what != "" {
		return fault.Invalid("at_km", "%s", what)
	}
	made.AtDistanceM = proto.Float64(read.GetAtDistanceM() * 1000)
	return nil
}

// peopleIn are the riders that were ticked, and others by their names.
func peopleIn(form url.Values, what string) (people []*pb.IncidentPerson) {
	for _, name := range sortedKeys(form) {
		if member, ok := strings.CutPrefix(name, what+"."); ok && form.Get(name) == "true" {
			people = append(people, &pb.IncidentPerson{Member: member})
		}
	}
	for _, other := range lined(form.Get("other_" + what)) {
		people = append(people, &pb.IncidentPerson{Other: other})
	}
	return people
}

// lined are the lines of a text that are not blank.
func lined(text string) []string {
	lines := strings.Split(unix(text), "\n")
	for i := range lines {
		lines[i] = strings.TrimSpace(lines[i])
	}
	return slices.DeleteFunc(lines, func(line string) bool { return line == "" })
}

// unix is a text with the line ends of this house; browsers send others. What is no text is marked.
func unix(text string) string {
	return strings.ToValidUTF8(strings.ReplaceAll(text, "\r\n", "\n"), "\uFFFD")
}
