package web

import (
	"cmp"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// recordView asks what happened on a ride.
type recordView struct {
	Ride *pb.Ride
	// Parts are the riders by their groups.
	Parts []recordPart
	// Begun is when the ride started, as the form has times.
	Begun string
}

// recordPart are riders to tick, with the group that the roster has them in.
type recordPart struct {
	Title  string
	Riders []*pb.Member
}

// ticksPart are the ticks of a part; Open: one of them is set, or there is no other part.
type ticksPart struct {
	Title string
	Ticks []Field
	Open  bool
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

// Who asks for riders of the ride, group by group.
func (r recordView) Who(form Form, what string) (parts []ticksPart) {
	for _, part := range r.Parts {
		made := ticksPart{Title: part.Title, Open: len(r.Parts) == 1}
		for _, rider := range part.Riders {
			tick := form.Check(what+"."+rider.Name, rider.DisplayName, "")
			made.Ticks, made.Open = append(made.Ticks, tick), made.Open || tick.Value == "true"
		}
		parts = append(parts, made)
	}
	return parts
}

// incidentAsk asks what happened on a ride.
func (v *visit) incidentAsk() error {
	shown, err := v.recordSeen()
	if err != nil {
		return err
	}
	return v.view("incidentrecord", "Write down what happened", shown)
}

// fewTicks are so few riders that they are found in one list, without groups.
const fewTicks = 8

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
	all = slices.DeleteFunc(all, func(member *pb.Member) bool { return !riding[member.Name] })
	roster := &pb.Roster{}
	if len(all) > fewTicks && shown.Ride.RosterNumber > 0 {
		if roster, err = v.rides.GetRoster(v.ctx, &pb.GetRosterRequest{Name: v.ride() + "/rosters/" + strconv.Itoa(int(shown.Ride.RosterNumber))}); err != nil {
			return shown, err
		}
	}
	shown.Parts = byGroup(all, roster)
	return shown, nil
}

// byGroup has riders by the groups of a roster, in its order; those in none come last.
func byGroup(riders []*pb.Member, roster *pb.Roster) (parts []recordPart) {
	in, at := map[string]int{}, map[int][]*pb.Member{}
	groups := roster.GetPlacement().GetGroups()
	for i, group := range groups {
		for _, row := range group.GetRows() {
			in[row.GetLeft().GetMember()], in[row.GetRight().GetMember()] = i+1, i+1
		}
	}
	for _, rider := range riders {
		at[in[rider.Name]] = append(at[in[rider.Name]], rider)
	}
	for i, group := range groups {
		if at[i+1] != nil {
			parts = append(parts, recordPart{cmp.Or(group.GetTitle(), group.GetGroup()), at[i+1]})
		}
	}
	if at[0] != nil {
		title := "In no group"
		if len(groups) == 0 {
			title = "Signed up"
		}
		parts = append(parts, recordPart{title, at[0]})
	}
	return parts
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
