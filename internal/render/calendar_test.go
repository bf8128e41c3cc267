package render_test

import (
	"bytes"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"gritward/internal/render"
	"gritward/internal/render/rostertest"
	pb "gritward/proto/gritward/v1"

	"github.com/emersion/go-ical"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"
)

var stamp = time.Date(2015, time.December, 11, 19, 0, 0, 0, time.UTC)

// entryOf is the entry of a rider of the winter run: by the roster, who rides in the dark.
func entryOf(t testing.TB) render.Entry {
	r := rostertest.Load(t, "winter-run")
	r.PageUrl = pageURL
	r.Ride.Name, r.Ride.CreatedAt, r.Ride.RosterNumber = "clubs/hollow-lane/rides/cold-barrow", timestamppb.New(stamp.AddDate(0, 0, -14)), r.Number
	g := r.Placement.Groups[2]
	rider := g.Rows[0].Left
	return render.Entry{
		Ride: r.Ride, Roster: r, Member: rider.Member, Name: rider.DisplayName, Club: r.ClubTitle, Zone: r.Zone,
		Signup: &pb.Signup{Member: rider.Member, State: pb.Signup_IN},
	}
}

func calendar(t testing.TB, e render.Entry, at time.Time) string {
	t.Helper()
	var b bytes.Buffer
	if err := render.Calendar(&b, e, at); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// decoded reads an entry with a parser that shares no code with what wrote it.
func decoded(t testing.TB, text string) (*ical.Calendar, *ical.Component) {
	t.Helper()
	cal, err := ical.NewDecoder(strings.NewReader(text)).Decode()
	if err != nil {
		t.Fatalf("%v in\n%s", err, text)
	}
	if len(cal.Children) != 1 || cal.Children[0].Name != ical.CompEvent {
		t.Fatalf("%d components", len(cal.Children))
	}
	return cal, cal.Children[0]
}

func value(t testing.TB, c *ical.Component, name string) string {
	t.Helper()
	text, err := c.Props.Text(name)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func TestCalendarReadBack(t *testing.T) {
	e := entryOf(t)
	e.Ride.MeetingPoint = `The pump; Thornham green, "by the oak" \ north`
	cal, event := decoded(t, calendar(t, e, stamp))
	for name, want := range map[string]string{
		"SUMMARY": "Cold Barrow and back by the mill, Touring", "LOCATION": e.Ride.MeetingPoint, "STATUS": "CONFIRMED", "DTSTAMP": "20151211T190000Z",
		"DTSTART": "20151212T112000Z", "SEQUENCE": "1209600",
	} {
		got := event.Props.Get(name).Value
		if name == "SUMMARY" || name == "LOCATION" {
			got = value(t, event, name)
		}
		if got != want {
			t.Errorf("%s is %q, want %q", name, got, want)
		}
	}
	if got := cal.Props.Get("METHOD").Value; got != "PUBLISH" {
		t.Errorf("METHOD %s", got)
	}
	if url := event.Props.Get("URL"); url == nil || url.Value != pageURL {
		t.Errorf("URL %v", url)
	}
	told := value(t, event, "DESCRIPTION")
	for _, want := range []string{"Group Touring: Nan Ferris leads, Rhea Stone marks the back.\n", "Leaves 11:20, home about 16:22", "Ride leader Ann Aske, telephone 07700 900142.", "Issue 2"} {
		if !strings.Contains(told, strings.TrimPrefix(want, "Issue")) {
			t.Errorf("%q is not told in\n%s", want, told)
		}
	}
	alarm := event.Children[0]
	if trigger := alarm.Props.Get("TRIGGER"); trigger.Value != "20151211T190000Z" || trigger.Params.Get("VALUE") != "DATE-TIME" {
		t.Errorf("the lights are to be charged at %v", trigger)
	}
	if got := value(t, alarm, "DESCRIPTION"); !strings.HasPrefix(got, "Charge your lights: lit for 1 h 2 min tomorrow") {
		t.Errorf("alarm tells %q", got)
	}
}

// TestCalendarStates: what is sent later outdoes what was sent before, with the same UID.
func TestCalendarStates(t *testing.T) {
	at, uid, last := stamp, "", ""
	for _, c := range []struct {
		name, status, summary string
		change                func(*render.Entry)
	}{
		{"before the first issue", "TENTATIVE", "Cold Barrow and back by the mill (group not known yet)", func(e *render.Entry) { e.Plan, e.Roster = e.Roster.Plan, nil }},
		{"waits", "TENTATIVE", "Cold Barrow and back by the mill (waiting for a place)", func(e *render.Entry) { e.Roster, e.Signup.State = nil, pb.Signup_WAITING }},
		{"placed", "CONFIRMED", "Cold Barrow and back by the mill, Touring", nil},
		{"withdrawn", "CANCELLED", "Withdrawn: Cold Barrow and back by the mill", func(e *render.Entry) { e.Signup.State = pb.Signup_WITHDRAWN }},
		{"gone from the list", "CANCELLED", "Withdrawn: Cold Barrow and back by the mill", func(e *render.Entry) { e.Signup = nil }},
		{"back again", "CONFIRMED", "Cold Barrow and back by the mill, Touring", nil},
		{"held", "TENTATIVE", "Cold Barrow and back by the mill (group not known yet)", func(e *render.Entry) { e.Member, e.Roster.Placement.Groups = "clubs/hollow-lane/members/sol-pike", nil }},
		{"called off", "CANCELLED", "CALLED OFF: Cold Barrow and back by the mill", func(e *render.Entry) { e.Ride.State = pb.Ride_CALLED_OFF }},
	} {
		e := entryOf(t)
		if c.change != nil {
			c.change(&e)
		}
		at = at.Add(time.Second)
		_, event := decoded(t, calendar(t, e, at))
		if got := event.Props.Get("STATUS").Value; got != c.status {
			t.Errorf("%s: STATUS %s, want %s", c.name, got, c.status)
		}
		if got := value(t, event, "SUMMARY"); got != c.summary {
			t.Errorf("%s: SUMMARY %q, want %q", c.name, got, c.summary)
		}
		if (c.status == "CANCELLED") && len(event.Children) > 0 {
			t.Errorf("%s: reminds of lights", c.name)
		}
		if seq := event.Props.Get("SEQUENCE").Value; seq <= last { // of the same length
			t.Errorf("%s: SEQUENCE %s after %s", c.name, seq, last)
		} else {
			last = seq
		}
		if c.name == "held" {
			continue // somebody else
		}
		if got := event.Props.Get("UID").Value; uid != "" && got != uid {
			t.Errorf("%s: UID %s, was %s", c.name, got, uid)
		} else {
			uid = got
		}
	}
}

// TestCalendarSlowClock: where the clock is behind the server's, the next issue outdoes the one before all the same.
func TestCalendarSlowClock(t *testing.T) {
	e := entryOf(t)
	_, first := decoded(t, calendar(t, e, stamp.AddDate(0, 0, -20)))
	e.Roster.PublishedAt = timestamppb.New(e.Roster.PublishedAt.AsTime().Add(time.Hour))
	_, next := decoded(t, calendar(t, e, stamp.AddDate(0, 0, -20)))
	for _, name := range []string{"SEQUENCE", "DTSTAMP"} {
		if before, after := first.Props.Get(name).Value, next.Props.Get(name).Value; after <= before || before == "0" {
			t.Errorf("%s %s after %s", name, after, before)
		}
	}
}

func TestCalendarInvites(t *testing.T) {
	e := entryOf(t)
	e.Organizer, e.Attendee, e.Name = "rides@hollow-lane.example", "nan@hollow-lane.example", `Nan "the Hill" O'Ferris, \; Ltd`
	cal, event := decoded(t, calendar(t, e, stamp))
	if got := cal.Props.Get("METHOD").Value; got != "REQUEST" {
		t.Errorf("METHOD %s", got)
	}
	if got := event.Props.Get("ORGANIZER").Value; got != "mailto:rides@hollow-lane.example" {
		t.Errorf("ORGANIZER %s", got)
	}
	who := event.Props.Get("ATTENDEE")
	if who.Value != "mailto:nan@hollow-lane.example" || who.Params.Get("CN") != "Nan ’the Hill’ O’Ferris Ltd" || who.Params.Get("PARTSTAT") != "ACCEPTED" {
		t.Errorf("ATTENDEE %v", who)
	}
	e.Ride.State = pb.Ride_CALLED_OFF
	if cal, _ := decoded(t, calendar(t, e, stamp)); cal.Props.Get("METHOD").Value != "CANCEL" {
		t.Error("a ride that is called off is not cancelled")
	}
}

func TestCalendarRefused(t *testing.T) {
	for name, change := range map[string]func(*render.Entry){
		"no ride": func(e *render.Entry) { e.Ride = nil }, "no member": func(e *render.Entry) { e.Member = "" },
		"no start":  func(e *render.Entry) { e.Ride.StartAt, e.Roster = nil, nil },
		"address":   func(e *render.Entry) { e.Attendee = "nan" },
		"injection": func(e *render.Entry) { e.Organizer = "a@b.example\r\nATTENDEE:mailto:x@y.example" },
	} {
		e := entryOf(t)
		change(&e)
		var b bytes.Buffer
		if err := render.Calendar(&b, e, stamp); err == nil || b.Len() > 0 {
			t.Errorf("%s: %v after %d bytes", name, err, b.Len())
		}
	}
}

// wellFormed holds RFC 5545, 3.1: CRLF, at most 75 octets a line, none of them in the middle of a letter.
func wellFormed(t interface{ Errorf(string, ...any) }, text string) {
	if strings.Count(text, "\n") != strings.Count(text, "\r\n") || strings.Count(text, "\r") != strings.Count(text, "\r\n") || !strings.HasSuffix(text, "\r\n") {
		t.Errorf("lines do not all end with CRLF: %q", text)
	}
	for _, line := range strings.Split(strings.TrimSuffix(text, "\r\n"), "\r\n") {
		if len(line) > 75 || !utf8.ValidString(line) || line == "" {
			t.Errorf("%d octets: %q", len(line), line)
		}
	}
}

var property = regexp.MustCompile(`(?m)^(BEGIN|END|UID|ATTENDEE|X-)`)

func TestCalendarHostile(t *testing.T) {
	plain := len(property.FindAllString(calendar(t, entryOf(t), stamp), -1))
	for _, s := range append(rostertest.Hostile(), "x\r\nATTENDEE:mailto:x@y.example", "x\nEND:VEVENT", strings.Repeat("夜", 200), "a\\,b;c:d\"e") {
		e := entryOf(t)
		e.Ride.Title, e.Ride.MeetingPoint, e.Ride.LeaderPhone, e.Name, e.Club, e.Roster.LeaderName, e.Roster.PageUrl = s, s, s, s, s, s, s
		e.Roster.Placement.Groups[2].Title = s
		text := calendar(t, e, stamp)
		wellFormed(t, text)
		_, event := decoded(t, text)
		if n := len(property.FindAllString(text, -1)); n != plain {
			t.Errorf("%.30q: %d properties, want %d", s, n, plain)
		}
		if got := value(t, event, "LOCATION"); got != render.Clean(s) {
			t.Errorf("LOCATION %.60q, want %.60q", got, render.Clean(s))
		}
	}
}

func TestCalendarRandom(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := rostertest.Random(rt)
		e := render.Entry{Ride: r.GetRide(), Roster: r, Plan: r.GetPlan(), Member: "clubs/a/members/b", Signup: &pb.Signup{State: pb.Signup_IN}}
		if riders := rostertest.Members(r); len(riders) > 0 {
			e.Member = rapid.SampledFrom(riders).Draw(rt, "member")
		}
		var b bytes.Buffer
		if err := render.Calendar(&b, e, stamp); err != nil {
			return // no start, or nobody's
		}
		wellFormed(rt, b.String())
		if _, err := ical.NewDecoder(&b).Decode(); err != nil {
			rt.Fatal(err)
		}
	})
}
