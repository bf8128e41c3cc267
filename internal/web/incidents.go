package web

import (
	"strconv"

	"gritward/internal/names"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

func (s *site) incidentRoutes() {
	s.show("GET /clubs/{club}/incidents", (*visit).incidentList)
	s.show("GET /clubs/{club}/rides/{ride}/incidents", (*visit).incidentAsk)
	s.take("/clubs/{club}/rides/{ride}/incidents", (*visit).incidentRecord)
	s.show("GET /clubs/{club}/rides/{ride}/incidents/{incident}", (*visit).incident)
	s.take("/clubs/{club}/rides/{ride}/incidents/{incident}/add", (*visit).incidentAdd)
	s.take("/clubs/{club}/rides/{ride}/incidents/{incident}/reported", (*visit).incidentReported)
}

// incidentsView are the incidents that who looks may read.
type incidentsView struct {
	Incidents []*pb.IncidentSummary
	// Open: only those are listed that are to be reported still.
	Open bool
}

// Kind is what happened, in kind.
func (incidentsView) Kind(one *pb.IncidentSummary) string { return kindWords[one.GetKind()] }

// Insurer tells how it stands with the insurer.
func (incidentsView) Insurer(one *pb.IncidentSummary) string { return phrase.Insurer(one) }

// Late tells whether it should have been reported already.
func (incidentsView) Late(one *pb.IncidentSummary) bool {
	return one.GetInsurer() == pb.IncidentAmendment_INSURER_UNSPECIFIED && one.GetDaysLeft() < 0
}

// kindWords are the kinds of incidents, and doneWords what was done, in words.
var (
	kindWords = map[pb.Incident_Kind]string{pb.Incident_FALL: "fall", pb.Incident_COLLISION: "collision",
		pb.Incident_MECHANICAL_FAILURE: "something on a bike failed", pb.Incident_ILLNESS: "illness", pb.Incident_NEAR_MISS: "near miss", pb.Incident_OTHER: "something else"}
	doneWords = map[pb.Incident_Action]string{pb.Incident_AMBULANCE: "an ambulance was called", pb.Incident_POLICE: "the police were called or told",
		pb.Incident_HANDED_OVER: "somebody was handed over to others", pb.Incident_FIRST_AID: "first aid was given",
		pb.Incident_FETCHED: "somebody was fetched, or went home by another way", pb.Incident_RODE_ON: "they rode on"}
)

// incidentList lists the incidents.
func (v *visit) incidentList() error {
	shown := incidentsView{Open: v.r.URL.Query().Get("open") == "true"}
	var err error
	shown.Incidents, err = pages(func(token string) ([]*pb.IncidentSummary, string, error) {
		answer, err := v.incidents.ListIncidents(v.ctx, &pb.ListIncidentsRequest{Parent: v.club(), NotReported: shown.Open, PageSize: most, PageToken: token})
		return answer.GetIncidents(), answer.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return v.view("incidents", "Incidents", shown)
}

// incidentView is one record.
type incidentView struct {
	*pb.Incident
	// Ride is the name of its ride.
	Ride string
}

// What is what happened, in kind, and whether somebody was injured.
func (i incidentView) What() string {
	if i.GetInjured() {
		return kindWords[i.Kind] + "; somebody was injured"
	}
	return kindWords[i.Kind] + "; nobody was injured"
}

// Place is where it happened.
func (i incidentView) Place() string {
	place := i.Where
	if i.AtDistanceM != nil {
		place += ", at " + phrase.Km(i.GetAtDistanceM())
	}
	if i.LatDeg != nil {
		place += ", " + strconv.FormatFloat(i.GetLatDeg(), 'f', 5, 64) + ", " + strconv.FormatFloat(i.GetLonDeg(), 'f', 5, 64)
	}
	return place
}

// People are those in the record.
func (incidentView) People(people []*pb.IncidentPerson) string { return phrase.IncidentPeople(people) }

// Planned are the conditions of the plan.
func (i incidentView) Planned() string { return phrase.IncidentConditions(i.Conditions) }

// Insurer tells how it stands with the insurer.
func (i incidentView) Insurer() string { return phrase.Insurer(i.Summary) }

// Settled tells whether it is said how it stands with the insurer.
func (i incidentView) Settled() bool {
	return i.Summary.GetInsurer() != pb.IncidentAmendment_INSURER_UNSPECIFIED
}

// Said is what an addition says beside its text.
func (incidentView) Said(added *pb.IncidentAmendment) string { return phrase.InsurerSaid(added) }

// DoneWords are what was done.
func (i incidentView) DoneWords() string {
	var said []string
	for _, one := range i.Done {
		said = append(said, doneWords[one])
	}
	return phrase.List(said)
}

// incidentName is the name of the record that the path names.
func (v *visit) incidentName() string { return v.ride() + "/incidents/" + v.r.PathValue("incident") }

// incident shows a record; that it was read is written down.
func (v *visit) incident() error {
	shown, err := v.incidentSeen()
	if err != nil {
		return err
	}
	return v.view("incident", "Incident "+v.r.PathValue("incident"), shown)
}

func (v *visit) incidentSeen() (incidentView, error) {
	read, err := v.incidents.ReadIncident(v.ctx, &pb.ReadIncidentRequest{Name: v.incidentName()})
	return incidentView{read, v.ride()}, err
}

// incidentAgain shows a record again with what stood in the way.
func (v *visit) incidentAgain(why error) error {
	shown, err := v.incidentSeen()
	if err != nil {
		return why
	}
	v.refuse(why, "incident", "Incident "+names.Last(shown.Name), shown)
	return nil
}

// incidentAdd adds to a record.
func (v *visit) incidentAdd() error {
	_, err := v.incidents.AmendIncident(v.ctx, &pb.AmendIncidentRequest{Name: v.incidentName(), RequestId: v.form().Get("once"), Text: unix(v.form().Get("text")),
		Photographs: lined(v.form().Get("photographs"))})
	if err != nil {
		return v.incidentAgain(err)
	}
	return v.to("/"+v.incidentName(), "incident-added")
}

// incidentReported says how an incident stands with the insurer.
func (v *visit) incidentReported() error {
	form := v.form()
	request := &pb.MarkReportedRequest{Name: v.incidentName(), Note: form.Get("note"), NeedNotBe: form.Get("how") == "need-not"}
	if !request.NeedNotBe {
		request.ReportedOn = form.Get("reported_on")
	}
	if _, err := v.incidents.MarkReported(v.ctx, request); err != nil {
		return v.incidentAgain(err)
	}
	return v.to("/"+v.incidentName(), "incident-marked")
}
