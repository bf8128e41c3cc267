package server_test

import (
	"strings"
	"testing"

	"gritward/internal/ledger"
	pb "gritward/proto/gritward/v1"
)

// TestIncidentKeepsNothingComputed: what is computed when a record is read is not kept as the client sent it.
func TestIncidentKeepsNothingComputed(t *testing.T) {
	w, ride := incidentWorld(t)
	sent := fell()
	sent.Summary = &pb.IncidentSummary{KeptUntil: "2099-01-01", RideTitle: "another"}
	sent.RecordedByName, sent.Concerned[0].DisplayName = "Somebody", "Nobody"
	sent.Amendments = []*pb.IncidentAmendment{{Text: "sent along"}}
	if _, err := w.recordIncident("ben", ride.Name, sent); err != nil {
		t.Fatal(told(err))
	}
	err := w.ledger.View(w.ctx, "fenwick", func(tx *ledger.Tx) error {
		kept, err := tx.Incident(ride.Name[strings.LastIndex(ride.Name, "/")+1:], 1)
		if kept.GetSummary() != nil || kept.GetRecordedByName() != "" || kept.GetConcerned()[0].DisplayName != "" || kept.GetAmendments() != nil {
			t.Errorf("kept %v", kept)
		}
		if kept.GetAccount() != fell().Account {
			t.Errorf("the account is %q", kept.GetAccount())
		}
		return err
	})
	if err != nil {
		t.Fatal(told(err))
	}
}

// TestGuestsIncident: a guest names those on the ride, and hears the same of every other, there or not; in a record that
// others wrote a guest reads the names of those on the ride alone.
func TestGuestsIncident(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	w.accept(w.invite("lea", &pb.Invite{DisplayName: "Gus", ForRide: ride.Name}).Code)
	w.declare("gus", bike("winter bike", 300))
	for _, id := range []string{"ben", "gus"} {
		w.joins(id, ride.Name, nil)
	}
	w.setClock(sunday13(15, 0))
	of := func(saw string) *pb.Incident {
		incident := fell()
		incident.Concerned[0].Member, incident.Saw[0].Member = club+"/members/gus", club+"/members/"+saw
		return incident
	}
	for _, other := range []string{"mia", "nix"} {
		_, err := w.recordIncident("gus", ride.Name, of(other))
		if want := `incident.saw[0].member: "` + other + `" is not on the ride; give the name as that of somebody else`; !strings.Contains(told(err), want) {
			t.Errorf("a guest names %s: %s", other, told(err))
		}
	}
	for saw, want := range map[string]string{"ben": "Ben", "lea": "Lea"} {
		made, err := w.recordIncident("gus", ride.Name, of(saw))
		if err != nil || made.Saw[0].DisplayName != want || made.RecordedByName != "Gus" {
			t.Errorf("a guest names %s: %v %s", saw, made, told(err))
		}
	}
	made, err := w.recordIncident("sec", ride.Name, of("mia"))
	if err != nil || made.Saw[0].DisplayName != "Mia" {
		t.Fatal(made, told(err))
	}
	read, err := w.incidents.ReadIncident(w.as("gus"), &pb.ReadIncidentRequest{Name: made.Name})
	if err != nil || read.Saw[0].DisplayName != "" || read.RecordedByName != "" || read.Concerned[0].DisplayName != "Gus" {
		t.Errorf("a guest reads %v: %s", read, told(err))
	}
}
