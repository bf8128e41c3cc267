package render

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/mail"
	"strings"
	"time"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"

	ical "github.com/arran4/golang-ical"
	"google.golang.org/protobuf/proto"
)

// Entry is a ride in the calendar of a member.
type Entry struct {
	Ride   *pb.Ride
	Plan   *pb.RidePlan // the plan, until there is a roster
	Roster *pb.Roster   // the newest issue; nil: none yet
	// Member is whose entry it is: clubs/{club}/members/{member}; Name is the member's, and Signup the member's place, nil for
	// none (any more).
	Member, Name string
	Signup       *pb.Signup
	// Club is the club's title, Zone its IANA time zone.
	Club, Zone string
	// Organizer and Attendee are e-mail addresses of the club and the member. With both the entry is an invitation that a
	// calendar answers to (METHOD REQUEST, CANCEL); without, one to keep (PUBLISH).
	Organizer, Attendee string
}

// chargeHour is when lights are to be charged, on the evening before: common practice, no source.
const chargeHour = 19

// Calendar writes an entry as an iCalendar object (RFC 5545), as of a time. A ride that is called off, and one that the
// member has withdrawn from, is a cancellation. It is an error when ride or member is not known, when the ride has no start,
// and when an address is none; nothing is written then.
//
// Times are in UTC: every calendar shows them in its owner's zone, and none needs a definition of the club's zone, of which
// clients make what they like. The UID is the same for ever for a ride and a member. SEQUENCE grows with time, in seconds
// since the ride was made: not only a new issue of the roster but also withdrawing and coming back, and a start moved before
// the first issue, must outdo what was sent before (RFC 5546, 2.1.4 and 2.1.5). A PUBLISH has no ORGANIZER: RFC 5545, 3.8.4.3
// keeps it for what is scheduled for a group, and there is no address to give.
func Calendar(w io.Writer, e Entry, stamp time.Time) error {
	c, err := newEntry(e)
	if err != nil {
		return err
	}
	if told := c.GetPublishedAt(); told.IsValid() && told.AsTime().After(stamp) {
		stamp = told.AsTime() // nothing is older than what it tells: clocks differ
	}
	cal := ical.NewCalendar()
	cal.SetProductId("-//gritward//gritward//EN")
	cal.SetCalscale("GREGORIAN")
	cal.SetMethod(c.method())
	event := cal.AddEvent(c.uid())
	event.SetDtStampTime(stamp)
	event.SetSequence(c.sequence(stamp))
	event.SetStatus(c.status())
	event.SetStartAt(c.start)
	if c.plan.GetHomeAt().IsValid() && c.plan.GetHomeAt().AsTime().After(c.start) {
		event.SetEndAt(c.plan.GetHomeAt().AsTime())
	}
	event.SetSummary(c.summary())
	event.SetDescription(strings.Join(c.lines(), "\n"))
	event.SetLocation(c.Ride.GetMeetingPoint())
	if url := c.GetPageUrl(); url != "" {
		event.SetURL(url)
	}
	c.people(event)
	if minutes := c.litMin(); minutes > 0 && !c.cancelled {
		c.charge(event, minutes)
	}
	return cal.SerializeTo(w, ical.WithNewLineWindows)
}

// entry is an Entry with what is made of it.
type entry struct {
	*sheet
	Entry
	cancelled bool
	start     time.Time
	group     *pb.RosterGroup // the member's; nil: none
	rider     *pb.Rider
	plan      *pb.GroupPlan // the group's
}

func newEntry(e Entry) (*entry, error) {
	c := &entry{Entry: e}
	c.Ride, c.Plan, c.Signup = cleaned(e.Ride), cleaned(e.Plan), cleaned(e.Signup)
	c.Member, c.Name, c.Club = Clean(e.Member), Clean(e.Name), Clean(e.Club)
	roster := proto.CloneOf(e.Roster)
	if roster == nil {
		roster = &pb.Roster{}
	}
	if roster.Zone == "" {
		roster.Zone = e.Zone
	}
	c.sheet = newSheet(roster)
	if c.Ride.GetName() == "" || c.Member == "" {
		return nil, errors.New("an entry needs a ride and a member")
	}
	for _, address := range []string{e.Organizer, e.Attendee} {
		if parsed, err := mail.ParseAddress(address); address != "" && (err != nil || parsed.Address != address || strings.ContainsAny(address, "\r\n\",;:")) {
			return nil, fmt.Errorf("%q is not an e-mail address", address)
		}
	}
	c.cancelled = c.Ride.GetState() == pb.Ride_CALLED_OFF || c.Signup == nil || c.Signup.GetState() == pb.Signup_WITHDRAWN
	for _, g := range c.GetPlacement().GetGroups() {
		for _, r := range seated(g) {
			if r.GetMember() == c.Member {
				c.group, c.rider, c.plan = g, r, c.groupPlan(g)
			}
		}
	}
	switch start := c.Ride.GetStartAt(); {
	case c.plan.GetStartAt().IsValid():
		c.start = c.plan.GetStartAt().AsTime()
	case start.IsValid():
		c.start = start.AsTime()
	default:
		return nil, errors.New("the ride has no start, so there is no entry for a calendar")
	}
	return c, nil
}

// uid is the same for a ride and a member for ever. The time at which the ride was made tells rides of different servers
// apart that are named alike.
func (c *entry) uid() string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%s\n%s\n%s", c.Ride.GetName(), c.Ride.GetCreatedAt().AsTime().Format(time.RFC3339), c.Member))
	return hex.EncodeToString(sum[:16])
}

func (c *entry) sequence(stamp time.Time) int {
	made := c.Ride.GetCreatedAt()
	if !made.IsValid() || made.GetSeconds() == 0 {
		return int(c.Ride.GetRosterNumber())
	}
	return int(max(0, min(stamp.Sub(made.AsTime())/time.Second, 1<<31-1))) // an INTEGER has 32 bits: RFC 5545, 3.3.8
}

func (c *entry) invites() bool { return c.Organizer != "" && c.Attendee != "" }

func (c *entry) method() ical.Method {
	switch {
	case !c.invites():
		return ical.MethodPublish
	case c.cancelled:
		return ical.MethodCancel
	}
	return ical.MethodRequest
}

func (c *entry) status() ical.ObjectStatus {
	switch {
	case c.cancelled:
		return ical.ObjectStatusCancelled
	case c.group != nil:
		return ical.ObjectStatusConfirmed
	}
	return ical.ObjectStatusTentative
}

// title is what the ride is called.
func (c *entry) title() string { return phrase.FirstOf(c.Ride.GetTitle(), "Ride without a title") }

func (c *entry) summary() string {
	switch {
	case c.Ride.GetState() == pb.Ride_CALLED_OFF:
		return "CALLED OFF: " + c.title()
	case c.cancelled:
		return "Withdrawn: " + c.title()
	case c.group != nil:
		return c.title() + ", " + groupTitle(c.group)
	case c.Signup.GetState() == pb.Signup_WAITING:
		return c.title() + " (waiting for a place)"
	}
	return c.title() + " (group not known yet)"
}

// people name the club and the member, where both can be reached.
func (c *entry) people(event *ical.VEvent) {
	if !c.invites() {
		return
	}
	event.SetOrganizer("mailto:"+c.Organizer, ical.WithCN(quotable(c.Club)))
	part := ical.ParticipationStatusAccepted
	switch {
	case c.cancelled && c.Ride.GetState() != pb.Ride_CALLED_OFF:
		part = ical.ParticipationStatusDeclined
	case c.status() == ical.ObjectStatusTentative:
		part = ical.ParticipationStatusTentative
	}
	event.AddAttendee("mailto:"+c.Attendee, ical.WithCN(quotable(c.Name)), part, ical.WithRSVP(false))
}

// quotable is a parameter's value, which knows no escapes (RFC 5545, 3.1): the library would put some before these.
func quotable(s string) string {
	return strings.Join(strings.Fields(strings.NewReplacer(`"`, "’", "'", "’", `\`, " ", ",", " ", ";", " ", ":", " ").Replace(s)), " ")
}

// charge reminds on the evening before of lights to charge.
func (c *entry) charge(event *ical.VEvent, minutes float64) {
	day := c.watch.Local(c.start)
	at := time.Date(day.Year(), day.Month(), day.Day()-1, chargeHour, 0, 0, 0, day.Location())
	alarm := event.AddAlarm()
	alarm.SetAction(ical.ActionDisplay)
	alarm.SetTrigger(at.UTC().Format("20060102T150405Z"), ical.WithValue("DATE-TIME"))
	alarm.SetDescription("Charge your lights: lit for " + phrase.AtLeast(minutes) + " tomorrow, " + c.title())
}
