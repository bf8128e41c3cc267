package server_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	"gritward/internal/ledger"
	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

// fell is a fall of Ben on Sunday, seen by Ada and a walker.
func fell() *pb.Incident {
	return &pb.Incident{
		Kind: pb.Incident_FALL, Injured: proto.Bool(true), HappenedLocal: "2026-12-13T11:20", AtDistanceM: proto.Float64(12300), Where: "Cattle grid above the ford",
		Concerned: []*pb.IncidentPerson{{Member: club + "/members/ben"}},
		Saw:       []*pb.IncidentPerson{{Member: club + "/members/ada"}, {Other: "a walker, Isa Mott"}},
		Account:   "The front wheel slid on the wet grid.",
		Done:      []pb.Incident_Action{pb.Incident_FIRST_AID, pb.Incident_FETCHED}, Photographs: []string{"grid-1.jpg"},
	}
}

func (w *world) recordIncident(as, ride string, incident *pb.Incident) (*pb.Incident, error) {
	return w.incidents.RecordIncident(w.as(as), &pb.RecordIncidentRequest{Parent: ride, Incident: incident})
}

// incidentWorld is a published ride on Sunday afternoon, led by Lea, with Ben and Ada.
func incidentWorld(t *testing.T) (*world, *pb.Ride) {
	w, ride := closingWorld(t)
	if _, err := w.rides.PublishRoster(w.as("lea"), &pb.PublishRosterRequest{Parent: ride.Name}); err != nil {
		t.Fatal(told(err))
	}
	w.setClock(sunday13(15, 0))
	return w, ride
}

// TestIncidents follows a record: who writes it, who reads it, what is appended, how long to report it, and when it goes.
func TestIncidents(t *testing.T) {
	w, ride := incidentWorld(t)
	made, err := w.recordIncident("lea", ride.Name, fell())
	if err != nil {
		t.Fatal(told(err))
	}
	if made.Name != ride.Name+"/incidents/1" || made.RecordedByName != "Lea" || made.Concerned[0].DisplayName != "Ben" || made.Conditions.GetIssue() != 1 ||
		made.Conditions.GetWeather().GetTemperatureC() != 20 || !made.HappenedAt.AsTime().Equal(sunday13(11, 20)) {
		t.Errorf("recorded %v", made)
	}
	// 13 December and 14 days, and 1,095 days, as Go's calendar has it.
	if s := made.Summary; s.ReportBy != "2026-12-27" || s.DaysLeft != 14 || s.KeptUntil != "2029-12-12" {
		t.Errorf("days: %v", s)
	}
	for who, want := range map[string]string{"sec": "no error", "lea": "no error", "ben": "no error",
		"ada": "PermissionDenied", "mia": "PermissionDenied"} {
		before := len(w.auditLog())
		read, err := w.incidents.ReadIncident(w.as(who), &pb.ReadIncidentRequest{Name: made.Name})
		if !strings.HasPrefix(told(err), want) {
			t.Errorf("%s reads: %s", who, told(err))
		}
		left := w.auditLog()[before:]
		if (err == nil) != (len(left) == 1) || err == nil && (left[0].Method != "gritward.v1.IncidentService/ReadIncident" || read.Account != fell().Account) {
			t.Errorf("%s reads %v and leaves %v", who, read, left)
		}
		_, absent := w.incidents.ReadIncident(w.as(who), &pb.ReadIncidentRequest{Name: ride.Name + "/incidents/7"})
		if err != nil && told(absent) != told(err) {
			t.Errorf("%s learns that there is no incident 7: %s", who, told(absent))
		}
		list, err := w.incidents.ListIncidents(w.as(who), &pb.ListIncidentsRequest{Parent: club})
		if err != nil || (len(list.Incidents) == 1) != (want == "no error") {
			t.Errorf("%s lists %v: %s", who, list, told(err))
		}
	}
	rear := &pb.AmendIncidentRequest{Name: made.Name, Text: "It was the rear wheel.", Photographs: []string{"wheel.jpg"}, RequestId: "rear"}
	for range 2 { // sent twice it is added once
		added, err := w.incidents.AmendIncident(w.as("ben"), proto.CloneOf(rear))
		if err != nil || added.Text != rear.Text || added.By != club+"/members/ben" || added.ByName != "Ben" {
			t.Fatalf("%v %s", added, told(err))
		}
	}
	rear.Text = "It was the front wheel."
	if _, err := w.incidents.AmendIncident(w.as("ben"), rear); !strings.Contains(told(err), "REQUEST_ID_REUSED") {
		t.Errorf("another text with the same request id: %s", told(err))
	}
	if read, err := w.incidents.ReadIncident(w.as("ben"), &pb.ReadIncidentRequest{Name: made.Name}); err != nil || len(read.Amendments) != 1 {
		t.Errorf("it was added to %d times: %s", len(read.GetAmendments()), told(err))
	}
	_, err = w.incidents.AmendIncident(w.as("ada"), &pb.AmendIncidentRequest{Name: made.Name, Text: "I saw it."})
	if !strings.HasPrefix(told(err), "PermissionDenied") {
		t.Errorf("a witness amends: %s", told(err))
	}
	w.setClock(time.Date(2026, 12, 28, 0, 30, 0, 0, time.UTC))
	open := func() []*pb.IncidentSummary {
		list, err := w.incidents.ListIncidents(w.as("sec"), &pb.ListIncidentsRequest{Parent: club, NotReported: true})
		if err != nil {
			t.Fatal(told(err))
		}
		return list.Incidents
	}
	if got := open(); len(got) != 1 || got[0].DaysLeft != -1 {
		t.Errorf("past its day: %v", got)
	}
	if _, err := w.incidents.MarkReported(w.as("sec"), &pb.MarkReportedRequest{Name: made.Name, ReportedOn: "2026-12-27", Note: "M/114"}); err != nil {
		t.Fatal(told(err))
	}
	if got := open(); len(got) != 0 {
		t.Errorf("still open: %v", got)
	}
	read, err := w.incidents.ReadIncident(w.as("sec"), &pb.ReadIncidentRequest{Name: made.Name})
	if err != nil || len(read.Amendments) != 2 || read.Account != fell().Account || read.Amendments[0].ByName != "Ben" || read.Summary.Insurer != pb.IncidentAmendment_REPORTED {
		t.Errorf("%v: %s", read, told(err))
	}
}

// TestWhoRecordsIncidents: leaders and secretaries of what they like, riders of what concerns them, others nothing.
func TestWhoRecordsIncidents(t *testing.T) {
	w, ride := incidentWorld(t)
	for _, c := range []struct{ who, concerned, want string }{
		{"sec", "ben", "no error"}, {"lea", "ada", "no error"}, {"ben", "ben", "no error"},
		{"ben", "ada", "PermissionDenied"}, {"mia", "mia", "PermissionDenied"}, {"bo", "ben", "PermissionDenied"},
	} {
		incident := fell()
		incident.Concerned[0].Member = club + "/members/" + c.concerned
		if _, err := w.recordIncident(c.who, ride.Name, incident); !strings.HasPrefix(told(err), c.want) {
			t.Errorf("%s about %s: %s", c.who, c.concerned, told(err))
		}
	}
}

// TestIncidentsRefused tries what cannot be: nothing of it is kept.
func TestIncidentsRefused(t *testing.T) {
	w, ride := incidentWorld(t)
	for name, c := range map[string]struct {
		change func(*pb.Incident)
		want   string
	}{
		"no kind":           {func(i *pb.Incident) { i.Kind = 0 }, "incident.kind"},
		"injured not said":  {func(i *pb.Incident) { i.Injured = nil }, "incident.injured: say whether"},
		"nobody":            {func(i *pb.Incident) { i.Concerned = nil }, "incident.concerned"},
		"nobody in it":      {func(i *pb.Incident) { i.Saw = append(i.Saw, &pb.IncidentPerson{}) }, "incident.saw[2]: names a member, or somebody else"},
		"stranger":          {func(i *pb.Incident) { i.Saw[0].Member = club + "/members/nobody" }, "incident.saw[0].member: there is no member"},
		"other club":        {func(i *pb.Incident) { i.Saw[0].Member = "clubs/other/members/ada" }, "incident.saw[0].member: "},
		"to come":           {func(i *pb.Incident) { i.HappenedLocal = "2026-12-13T16:00" }, "incident.happened_local: has not come yet"},
		"day before":        {func(i *pb.Incident) { i.HappenedLocal = "2026-12-12T11:00" }, "is not on the day of the ride"},
		"weeks after":       {func(i *pb.Incident) { i.HappenedLocal = "2027-01-12T11:00" }, "is not on the day of the ride"},
		"no time":           {func(i *pb.Incident) { i.HappenedLocal = "noon" }, "incident.happened_local: must be written"},
		"off the route":     {func(i *pb.Incident) { i.AtDistanceM = proto.Float64(900000) }, "lies beyond the route"},
		"half a place":      {func(i *pb.Incident) { i.LatDeg = proto.Float64(54) }, "give both degrees"},
		"path":              {func(i *pb.Incident) { i.Photographs = []string{"../../etc/passwd"} }, "incident.photographs[0]: must be the name of a file"},
		"path of a window":  {func(i *pb.Incident) { i.Photographs = []string{`C:\me.jpg`} }, "incident.photographs[0]: must be"},
		"too long":          {func(i *pb.Incident) { i.Account = strings.Repeat("a", 4001) }, "incident.account"},
		"far too many":      {func(i *pb.Incident) { i.Photographs = make([]string, 21) }, "incident.photographs"},
		"nothing happened":  {func(i *pb.Incident) { i.Account = "" }, "incident.account"},
		"unknown work done": {func(i *pb.Incident) { i.Done = []pb.Incident_Action{99} }, "incident.done[0]"},
		"nowhere":           {func(i *pb.Incident) { i.Where = "" }, "incident.where"},
	} {
		incident := fell()
		c.change(incident)
		if _, err := w.recordIncident("lea", ride.Name, incident); !strings.Contains(told(err), c.want) {
			t.Errorf("%s: %s", name, told(err))
		}
	}
	if _, err := w.recordIncident("lea", ride.Name, nil); !strings.Contains(told(err), "incident: is missing") {
		t.Errorf("nothing: %s", told(err))
	}
	if list, err := w.incidents.ListIncidents(w.as("sec"), &pb.ListIncidentsRequest{Parent: club}); err != nil || len(list.Incidents) != 0 {
		t.Errorf("kept %v: %s", list, told(err))
	}
	made, err := w.recordIncident("lea", ride.Name, fell())
	if err != nil {
		t.Fatal(told(err))
	}
	for _, c := range []struct {
		request *pb.MarkReportedRequest
		want    string
	}{
		{&pb.MarkReportedRequest{}, "reported_on: say on which day"},
		{&pb.MarkReportedRequest{ReportedOn: "2026-12-13", NeedNotBe: true}, "reported_on: say on which day"},
		{&pb.MarkReportedRequest{NeedNotBe: true}, "note: say why"},
		{&pb.MarkReportedRequest{ReportedOn: "2026-12-12"}, "reported_on: is before the day"},
		{&pb.MarkReportedRequest{ReportedOn: "2026-12-14"}, "reported_on: has not come yet"},
		{&pb.MarkReportedRequest{ReportedOn: "soon"}, "reported_on: "},
	} {
		c.request.Name = made.Name
		if _, err := w.incidents.MarkReported(w.as("sec"), c.request); !strings.Contains(told(err), c.want) {
			t.Errorf("%v: %s", c.request, told(err))
		}
	}
	for _, name := range []string{"0", "01", "x", "-", "99999999999"} {
		if _, err := w.incidents.ReadIncident(w.as("sec"), &pb.ReadIncidentRequest{Name: ride.Name + "/incidents/" + name}); !strings.HasPrefix(told(err), "InvalidArgument") {
			t.Errorf("incident %q: %s", name, told(err))
		}
	}
}

// TestIncidentPolicy: the policy of the ride's day says how long; each page of the list goes on where the one before ended.
func TestIncidentPolicy(t *testing.T) {
	w, ride := incidentWorld(t)
	short := strings.Replace(string(policyfile.Winter), "incidents: {report_within: 14d, kept: 1095d}", "incidents: {report_within: 3d, kept: 400d}", 1)
	if _, err := w.policies.AdoptPolicy(w.as("sec"), &pb.AdoptPolicyRequest{Parent: club, File: "winter.yaml", Content: []byte(short), EffectiveFrom: "2026-12-13"}); err != nil {
		t.Fatal(told(err))
	}
	for range 3 {
		if _, err := w.recordIncident("lea", ride.Name, fell()); err != nil {
			t.Fatal(told(err))
		}
	}
	var got []string
	for token := ""; ; {
		list, err := w.incidents.ListIncidents(w.as("ben"), &pb.ListIncidentsRequest{Parent: club, PageSize: 2, PageToken: token})
		if err != nil {
			t.Fatal(told(err))
		}
		for _, one := range list.Incidents {
			got = append(got, one.Name[len(ride.Name):]+" "+one.ReportBy+" "+one.KeptUntil)
		}
		if token = list.NextPageToken; token == "" {
			break
		}
	}
	want := []string{"/incidents/3 2026-12-16 2028-01-17", "/incidents/2 2026-12-16 2028-01-17", "/incidents/1 2026-12-16 2028-01-17"}
	if !slices.Equal(got, want) {
		t.Errorf("%v", got)
	}
	if _, err := w.incidents.ListIncidents(w.as("ben"), &pb.ListIncidentsRequest{Parent: club, PageToken: "x"}); !strings.Contains(told(err), "page_token") {
		t.Errorf("a token of ours: %s", told(err))
	}
}

// TestErasedFromIncidents: the name of an erased member goes out of what others wrote; the record stays.
func TestErasedFromIncidents(t *testing.T) {
	w, ride := incidentWorld(t)
	w.member("Ada Fell", nil)
	incident := fell()
	incident.Account = "Ada Fell held the wheel."
	incident.Saw = []*pb.IncidentPerson{{Member: club + "/members/ada-fell"}}
	made, err := w.recordIncident("lea", ride.Name, incident)
	if err != nil {
		t.Fatal(told(err))
	}
	if _, err := w.incidents.AmendIncident(w.as("lea"), &pb.AmendIncidentRequest{Name: made.Name, Text: "Ask Ada Fell."}); err != nil {
		t.Fatal(told(err))
	}
	if _, err := w.erase("sec", "ada-fell", "Ada Fell"); err != nil {
		t.Fatal(told(err))
	}
	read, err := w.incidents.ReadIncident(w.as("sec"), &pb.ReadIncidentRequest{Name: made.Name})
	if err != nil || read.Account != ledger.FormerMember+" held the wheel." || read.Amendments[0].Text != "Ask "+ledger.FormerMember+"." {
		t.Errorf("%v: %s", read, told(err))
	}
}

// TestIncidentKept: the record is there until the end of its last day in the club's zone, and gone after it, with what was
// appended; the log says so and a rewriting of the store is owed.
func TestIncidentKept(t *testing.T) {
	w, ride := incidentWorld(t)
	made, err := w.recordIncident("lea", ride.Name, fell())
	if err != nil {
		t.Fatal(told(err))
	}
	if _, err := w.incidents.AmendIncident(w.as("lea"), &pb.AmendIncidentRequest{Name: made.Name, Text: "more"}); err != nil {
		t.Fatal(told(err))
	}
	w.lookAt(time.Date(2029, 12, 10, 23, 58, 0, 0, time.UTC)) // the first for long
	w.lookAt(time.Date(2029, 12, 11, 23, 58, 0, 0, time.UTC)) // invites
	for _, c := range []struct {
		at   time.Time
		want bool
	}{{time.Date(2029, 12, 12, 23, 59, 0, 0, time.UTC), true}, {time.Date(2029, 12, 13, 23, 59, 0, 0, time.UTC), false}} {
		before := len(w.auditLog())
		w.lookAt(c.at)
		if left := len(w.auditLog()) - before; (left == 0) != c.want {
			t.Errorf("%s: %d entries", c.at, left)
		}
		list, err := w.incidents.ListIncidents(w.as("sec"), &pb.ListIncidentsRequest{Parent: club})
		if err != nil || (len(list.Incidents) == 1) != c.want {
			t.Errorf("%s: %v %s", c.at, list, told(err))
		}
	}
	if _, what := w.entries(); what != "removed what the policy keeps no longer: 1 ride, 1 record of an incident" { // the ride was kept for it
		t.Error(what)
	}
	if owed, err := w.ledger.Scrub(w.ctx); err != nil || owed {
		t.Errorf("the store was not rewritten: %v", err)
	}
}
