package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"gritward/internal/demo"
)

func TestIncidents(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.clock.TurnTo(w.story.Ride.StartAt.AsTime().Add(3 * time.Hour))
	at := "/" + w.ride() + "/incidents"
	b := w.signIn(demo.Leader)
	b.open(at).is(http.StatusOK).says("In an emergency call the emergency number first", "no medical detail", "Hetty Marlock", "Brisk 7 riders", "Steady 9 riders", "In no group 1 rider")
	told := url.Values{"incident.kind": {"FALL"}, "incident.injured": {"no"}, "incident.happened_local": {"2026-12-13T10:20"}, "incident.where": {"cattle grid <b>above</b>"},
		"at_km": {"12,3"}, "concerned." + w.member(demo.Member): {"true"}, "other_saw": {"a walker\r\n\r\nIsa <script>alert(1)</script>"},
		"incident.account": {"The front wheel slid.\r\nOn the wet grid."}, "done.RODE_ON": {"true"}, "photographs": {"grid.jpg"}, "once": {"a"}}
	without := url.Values{"incident.account": {"Something that took long to type"}}
	b.send(at, without).is(http.StatusUnprocessableEntity).says("Where, in words")
	if !strings.Contains(b.page, "Something that took long to type") {
		t.Error("what was typed is lost")
	}
	told.Set("at_km", "far")
	b.send(at, told).is(http.StatusUnprocessableEntity).says("is not a number")
	told.Set("at_km", "12,3")
	b.send(at, told).is(http.StatusOK).says("It is written down", "Fall; nobody was injured", "at 12.3 km", "Hetty Marlock", "a walker", "They rode on", "grid.jpg", "Osric Penhale")
	if strings.Contains(b.page, "<script>alert") || !strings.Contains(b.page, "The front wheel slid.\nOn the wet grid.") {
		t.Error(b.page)
	}
	record := b.at
	if b.send(at, told).is(http.StatusOK); b.at != record {
		t.Errorf("sent twice, it is written down again at %s", b.at)
	}
	for range 2 {
		b.send(record+"/add", url.Values{"text": {"It was the rear wheel."}, "once": {"rear"}}).is(http.StatusOK).says("It is added to the record", "It was the rear wheel.")
	}
	if n := strings.Count(b.text(), "It was the rear wheel."); n != 1 {
		t.Errorf("sent twice, it stands there %d times", n)
	}
	b.send(record+"/add", url.Values{}).is(http.StatusUnprocessableEntity)
	b.send(record+"/reported", url.Values{"how": {"reported"}, "reported_on": {"2026-12-13"}}).is(http.StatusForbidden)

	s := w.signIn(demo.Secretary)
	s.open("/"+w.club()+"/incidents").is(http.StatusOK).says("Fall", "to be reported by", "it is written down that you read it").saysNot("front wheel")
	s.open(record).is(http.StatusOK).says("That you read this is written down", "The front wheel slid.")
	s.open("/" + w.club() + "/audit").says("read an incident")
	s.send(record+"/reported", url.Values{"how": {"need-not"}}).is(http.StatusUnprocessableEntity)
	s.send(record+"/reported", url.Values{"how": {"reported"}, "reported_on": {"2026-12-13"}, "note": {"M/114"}}).is(http.StatusOK).says("Reported", "M/114")
	s.open("/" + w.club() + "/incidents?open=true").says("There are none")

	w.signIn(demo.Member).open(record).is(http.StatusOK) // whom it concerns
	other := w.signIn("Silas Whinfell")
	other.open(record).is(http.StatusForbidden)
	other.open("/" + w.club() + "/incidents").is(http.StatusOK).says("There are none")
	other.send(at, told).is(http.StatusForbidden)
	b.open("/" + w.ride() + "/incidents/99").is(http.StatusNotFound)
}
