//go:build browser

package web_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"gritward/internal/demo"
	pb "gritward/proto/gritward/v1"
)

// TestBrowserKeyboardMember has somebody new do all that a member does, with the keyboard alone: let in by a link, a bike declared with
// the club's answers beside it, certified again, signed up, the bike changed, the place and why, withdrawn.
func TestBrowserKeyboardMember(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	const nell = "Nell Farrow"
	made, err := pb.NewClubServiceClient(w.conn).CreateInvite(w.as(demo.Secretary), &pb.CreateInviteRequest{Parent: w.club(), Invite: &pb.Invite{DisplayName: nell}})
	if err != nil {
		t.Fatal(err)
	}
	b := w.tabOf(t, "somebody new", desk, true)
	b.open("/join/"+made.Code).keys("device", "desk at home").enter("Sign in on this device").says("You are signed in")

	b.enter("Declare a bike").waits("Where it would stand")
	for _, part := range []string{"guards", "brakes", "tyres", "bearings", "contact"} {
		b.ticks("look." + part)
	}
	b.arrows("facts.frame.damage_open", "false").keys("look.pad_mm", "4")
	b.arrows("facts.guards.front.kind", "NONE").waits("back of the group: front: no guard")
	b.enter("Certify this bike").says("Certified. Thank you.")
	b.enter("Certify again").enter("All of it is true today: certify").says("Certified. Thank you.")
	b.enter("My bikes").enter("Declare another bike").keys("facts.title", "spare bike").enter("Certify this bike").says("Certified. Thank you.")
	spare := eval[string](b, "location.pathname.slice(1)")

	b.enter("Rides").enter("Four Becks").enter("Sign up").reach("signup.bike").key(" ").enter("Sign up").says("You are signed up")
	b.enter("Change bike or wish").arrows("signup.bike", spare).arrows("signup.preferred_group", "easy").ticks("With somebody, or ready to help")
	b.keys("signup.party", "orchard").enter("Keep the change").says("spare bike", "Would like Easy", "Together with orchard")
	b.says("Each group, and what would change it", "What would lift the bike")
	b.enter("Four Becks").enter("Withdraw").ticks("Withdraw from the ride").enter("Withdraw").says("You have withdrawn")
}

// TestBrowserKeyboardLeader has a leader do all of a ride with the keyboard alone: made of a route file, planned, placed, a rider fixed,
// published; then at the start line signed on, looked over, put back, set off, home, closed.
func TestBrowserKeyboardLeader(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	route := filepath.Join(t.TempDir(), "four-becks.gpx")
	if err := os.WriteFile(route, demo.Route, 0o600); err != nil {
		t.Fatal(err)
	}
	b := w.tabOf(t, "the leader", desk, true).signIn(demo.Leader)
	b.enter("Rides").enter("New ride").chooses("Route", route).keys("ride.title", "Third Sunday")
	b.keys("ride.start_local", "12202026\t1030AM").keys("ride.meeting_point", "The weighbridge")
	for _, field := range []string{"ride.groups[0].title", "ride.groups[0].pace_kmh", "ride.groups[2].title", "ride.groups[2].pace_kmh"} {
		b.keys(field, kb.Delete)
	}
	b.keys("ride.conditions.start.temperature_c", "6").arrows("ride.conditions.start.wet", "false")
	b.enter("Make the ride").says("The ride is made", "Third Sunday", "Sunday 20 December 2026, 10:30")
	ride := eval[string](b, "location.pathname.split('/').slice(1, 5).join('/')")
	b.enter("Plan").says("Leaves 10:30", "Start by")
	w.joined(ride, "steady")
	b.enter("Place the riders").says("9 riders are placed").enter("Hetty Marlock").arrows("group", "steady").keys("reason", "with her sister").enter("Fix it").says("It is fixed")
	b.enter("Publish issue 1").says("The roster is published")

	w.clock.TurnTo(w.at(ride).Add(-20 * time.Minute))
	b.enter("The ride").enter("Start line").until(`document.getElementById("totals").innerText.includes("9")`)
	b.waits("Everything is sent").reach("Sign on: Hetty Marlock").key(kb.Enter).waits("Hetty Marlock: signed on")
	b.reach("All signed on but…").key(kb.Enter).ticks("Imke Vard").reach("Sign on").key(kb.Enter).waits("7 riders: signed on")
	b.reach("Sign on: Imke Vard").key(kb.Enter).waits("Imke Vard: signed on").waits("Everything is sent")
	b.reach("Hetty Marlock △ advice").key(kb.Enter).ticks("Look over the bike").arrows("end", "REAR").arrows("found", "LIGHT_DEAD").reach("Found this").key(kb.Enter)
	b.waits("Hetty Marlock, looked over.").reach("I have seen it").key(kb.Enter)
	b.until(`!document.getElementById("said").textContent`)
	b.enter("What a late start does").keys("clock", "1040AM").enter("What that does").says("Start 10:40 instead of 10:30", "Who stands worse")
	b.keys("reason", "a puncture").enter("Put back and publish").says("issue 2", "Start 10:40")

	w.clock.TurnTo(w.at(ride).Add(2 * time.Minute))
	all := func(open, do, told string) {
		b.reach(open).key(kb.Enter).reach(do).key(kb.Enter).waits(told)
		b.waits("Everything is sent")
	}
	b.open("/" + ride + "/start").waits("As of 10:42")
	all("All set off but…", "Set off", "9 riders: set off")
	w.clock.TurnTo(w.at(ride).Add(4*time.Hour + 20*time.Minute))
	b.open("/" + ride + "/start").waits("As of 15:00")
	all("All home but…", "Home", "9 riders: home")
	b.reach("Close the ride").key(kb.Enter).enter("Everybody is accounted for: close the ride").says("The roll call is closed")
}

// TestBrowserKeyboardSecretary has a secretary do it with the keyboard alone: the policy edited, with a mistake, previewed, adopted; a
// member looked for, invited, given a role; the season.
func TestBrowserKeyboardSecretary(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.tabOf(t, "the secretary", desk, true).signIn(demo.Secretary)
	b.enter("Policy").enter("Edit it").waits("Nothing is wrong with it").reach("policy").key(kb.Home, chromedp.ModifierCtrl)
	before, _, _ := strings.Cut(winter(t), "otherwise: back")
	b.key(strings.Repeat(kb.ArrowDown, strings.Count(before, "\n"))).key(kb.End).key(strings.Repeat(kb.Backspace, len("back"))).key("hodl")
	b.waits("It cannot be adopted yet").reach("Line ").key(kb.Enter)
	if at := eval[string](b, "(e => e.value.slice(e.selectionStart, e.selectionEnd))(document.activeElement)"); at != "hodl" {
		t.Errorf("the mistake leads to %q", at)
	}
	b.key("hold").waits("Nothing is wrong with it").enter("See whom it affects").says("would stand otherwise", "guards")
	b.keys("note", "guards or nothing").enter("Adopt it").says("The policy is adopted", "guards or nothing")

	b.enter("Members").keys("find", "hetty").enter("Look").enter(demo.Member).ticks("leader").ticks("member.may_lead").enter("Keep these").says("It is kept", "Ride leader")
	b.enter("All members").enter("Invite somebody").keys("invite.display_name", "Per Lund").enter("Make the invite").says("Hand this over")
	b.enter("To the invites").says("Per Lund")
	b.enter("Season").keys("from", "11012026").keys("to", "12312026").enter("Show").says("In numbers", "1 November 2026 to 31 December 2026")
}

// joined has the riders whom a group of Sunday's roster has join another ride.
func (w *world) joined(ride, group string) {
	w.t.Helper()
	issue, err := w.rides().GetRoster(w.as(demo.Leader), &pb.GetRosterRequest{Name: w.ride() + "/rosters/-"})
	if err != nil {
		w.t.Fatal(err)
	}
	for _, placed := range issue.Placement.Groups {
		for _, row := range placed.Rows {
			for _, rider := range []*pb.Rider{row.Left, row.Right} {
				if placed.Group != group || rider == nil {
					continue
				}
				if _, err := w.rides().JoinRide(w.as(rider.DisplayName), &pb.JoinRideRequest{Parent: ride, Signup: &pb.Signup{Member: rider.Member, Bike: rider.Bike, PreferredGroup: group}}); err != nil {
					w.t.Fatal(err)
				}
			}
		}
	}
}

// at is when a ride starts.
func (w *world) at(ride string) time.Time {
	w.t.Helper()
	one, err := w.rides().GetRide(w.as(demo.Leader), &pb.GetRideRequest{Name: ride})
	if err != nil {
		w.t.Fatal(err)
	}
	return one.StartAt.AsTime()
}
