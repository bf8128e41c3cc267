package server_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// sunday13 is a time on the day of the ride.
func sunday13(hour, minute int) time.Time {
	return time.Date(2026, 12, 13, hour, minute, 0, 0, time.UTC)
}

// roll reads the roll call of a ride as the leader, and one rider of it.
func (w *world) roll(ride, id string) (*pb.RollCall, *pb.RiderRoll) {
	w.t.Helper()
	call, err := w.rolls.GetRollCall(w.as("lea"), &pb.GetRollCallRequest{Name: ride})
	if err != nil {
		w.t.Fatal(told(err))
	}
	at := slices.IndexFunc(call.Riders, func(roll *pb.RiderRoll) bool { return roll.Member == club+"/members/"+id })
	if at < 0 {
		return call, nil
	}
	return call, call.Riders[at]
}

// TestWrongClocks: a device whose clock is wrong is reckoned with; a time that its clock does not explain is refused, and
// nothing of the call is kept.
func TestWrongClocks(t *testing.T) {
	w, ride := closingWorld(t)
	w.setClock(sunday13(12, 0))
	send := func(id string, at, deviceNow time.Time, stated bool) (*pb.Mark, string) {
		request := &pb.RecordMarksRequest{Parent: ride.Name, Marks: []*pb.Mark{{Name: ride.Name + "/marks/" + id, Member: club + "/members/ben",
			What: pb.Mark_IN_GROUP, At: timestamppb.New(at), TimeStated: stated, Number: 77, CorrectedAt: timestamppb.New(friday)}}}
		if !deviceNow.IsZero() {
			request.DeviceNow = timestamppb.New(deviceNow)
		}
		answer, err := w.rolls.RecordMarks(w.as("lea"), request)
		if err != nil {
			return nil, told(err)
		}
		return answer.Marks[0], ""
	}
	epoch := time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		name          string
		at, deviceNow time.Time
		stated        bool
		corrected     time.Time
		refused       string
	}{
		{"right", sunday13(11, 30), sunday13(12, 0), false, sunday13(11, 30), ""},
		{"under way for a while", sunday13(11, 30), sunday13(11, 59).Add(30 * time.Second), false, sunday13(11, 30), ""},
		{"two hours fast", sunday13(13, 40), sunday13(14, 0), false, sunday13(11, 40), ""},
		{"slow", sunday13(9, 50), sunday13(10, 0), false, sunday13(11, 50), ""},
		{"flat battery", epoch.Add(time.Hour), epoch.Add(3 * time.Hour), false, sunday13(10, 0), ""},
		{"a person said when", sunday13(11, 20), sunday13(14, 0), true, sunday13(11, 20), ""},
		{"no clock told", sunday13(11, 10), time.Time{}, false, sunday13(11, 10), ""},
		{"ahead of its own clock", sunday13(14, 10), sunday13(14, 0), false, time.Time{}, "marks[0].at: lies in the future"},
		{"ahead, no clock told", sunday13(12, 10), time.Time{}, false, time.Time{}, "marks[0].at: lies in the future"},
		{"a person said a time to come", sunday13(13, 0), sunday13(14, 0), true, time.Time{}, "marks[0].at: lies in the future"},
		{"long before the ride was made", epoch, sunday13(12, 0), false, time.Time{}, "marks[0].at: lies before the ride was made"},
		{"a clock of another age", sunday13(12, 0), sunday13(12, 0).AddDate(200, 0, 0), false, time.Time{}, "device_now: is not a time within a hundred years"},
	} {
		got, refused := send("c-"+strings.ReplaceAll(strings.ReplaceAll(c.name, " ", "-"), ",", ""), c.at, c.deviceNow, c.stated)
		if c.refused != "" {
			if !strings.Contains(refused, c.refused) {
				t.Errorf("%s: %s", c.name, refused)
			}
			continue
		}
		if refused != "" || !got.CorrectedAt.AsTime().Equal(c.corrected) || !got.At.AsTime().Equal(c.at) {
			t.Errorf("%s: %v, %s", c.name, got, refused)
		}
	}
	if call, roll := w.roll(ride.Name, "ben"); call.Newest != 7 || !roll.Last.CorrectedAt.AsTime().Equal(sunday13(11, 50)) ||
		!slices.Contains(roll.Doubts, "the last mark is from a device whose clock was 2 h slow; its time is corrected") {
		t.Errorf("%v", roll)
	}
}

// TestMarksOfAnyLeader: any leader marks, and a copy of the marks is kept up to date by their numbers; the kilometres go as the
// mark is struck, and who turned back is home without them and sooner.
func TestMarksOfAnyLeader(t *testing.T) {
	w, ride := closingWorld(t)
	w.member("Lou", nil, pb.Role_LEADER)
	w.setClock(sunday13(15, 0))
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(told(err))
		}
	}
	must(w.mark("lea", ride.Name, "a", "ada", pb.Mark_IN_GROUP, 11, 0))
	must(w.mark("lou", ride.Name, "b", "ada", pb.Mark_HOME, 14, 0))
	must(w.mark("lou", ride.Name, "c", "ben", pb.Mark_TURNED_BACK, 10, 50))
	must(w.mark("lou", ride.Name, "c", "ben", pb.Mark_TURNED_BACK, 10, 50))
	must(w.mark("lou", ride.Name, "d", "ben", pb.Mark_HOME, 11, 20)) // sooner than the route can be ridden, and no wonder
	if err := w.mark("mia", ride.Name, "e", "ben", pb.Mark_HOME, 11, 20); !strings.HasPrefix(told(err), "PermissionDenied") {
		t.Errorf("a member: %s", told(err))
	}
	ridden := func(id string) int32 {
		member, err := w.clubs.GetMember(w.as("sec"), &pb.GetMemberRequest{Name: club + "/members/" + id})
		must(err)
		return member.RidesRidden
	}
	if ridden("ada") != 1 || ridden("ben") != 0 {
		t.Errorf("ada has %d rides, ben %d", ridden("ada"), ridden("ben"))
	}
	strike := func(id, what, member string) string {
		_, err := w.rolls.RecordMarks(w.as("lea"), &pb.RecordMarksRequest{Parent: ride.Name, Marks: []*pb.Mark{{
			Name: ride.Name + "/marks/" + id, Member: club + "/members/" + member, What: pb.Mark_STRIKE, Strikes: what}}})
		return told(err)
	}
	if got := strike("s0", "b", "ben"); !strings.Contains(got, "marks[0].strikes: is a mark of ada") {
		t.Error(got)
	}
	if got := strike("s1", "b", "ada"); got != "no error" {
		t.Fatal(got)
	}
	if got := strike("s2", "s1", "ada"); !strings.Contains(got, "marks[0].strikes: a strike is not struck") {
		t.Error(got)
	}
	if got := strike("s3", "", "ada"); !strings.Contains(got, "marks[0].strikes: names the mark") {
		t.Error(got)
	}
	bike, err := w.bikes.GetBike(w.as("ada"), &pb.GetBikeRequest{Name: club + "/members/ada/bikes/bike-1"})
	if err != nil || ridden("ada") != 0 || bike.RiddenKm != 0 {
		t.Errorf("ada has %d rides and %g km after the mark was struck: %v", ridden("ada"), bike.GetRiddenKm(), err)
	}
	if _, roll := w.roll(ride.Name, "ada"); roll.State != pb.RiderRoll_OUT {
		t.Errorf("%v", roll)
	}
	var names []string
	for since := int64(0); ; {
		page, err := w.rolls.ListMarks(w.as("lou"), &pb.ListMarksRequest{Parent: ride.Name, Since: since, PageSize: 2})
		must(err)
		for _, mark := range page.Marks {
			names, since = append(names, fmt.Sprint(mark.Number, mark.Name[len(ride.Name+"/marks/"):])), mark.Number
		}
		if !page.More {
			break
		}
	}
	if got := strings.Join(names, " "); got != "1a 2b 3c 4d 5s1" {
		t.Errorf("%s", got)
	}
	group := &pb.Mark{Name: ride.Name + "/marks/g", Member: club + "/members/ada", What: pb.Mark_IN_GROUP, Group: "fast"}
	_, err = w.rolls.RecordMarks(w.as("lea"), &pb.RecordMarksRequest{Parent: ride.Name, Marks: []*pb.Mark{group}})
	if got := told(err); !strings.Contains(got, `marks[0].group: there is no group "fast"; there is brisk, easy`) {
		t.Error(got)
	}
}

// TestOverdueIsTold: by the policy's half hours, once each, whatever is looked or restarted between, until who is overdue is
// home; and the texts of the marks stay out.
func TestOverdueIsTold(t *testing.T) {
	w, ride := closingWorld(t)
	if _, err := w.join("lea", ride.Name, club+"/members/lea/bikes/bike-1", nil); err != nil {
		t.Fatal(told(err))
	}
	issue := w.publish("lea", ride.Name)
	home := issue.Placement.Groups[len(issue.Placement.Groups)-1].Plan.HomeAt.AsTime()
	look := func(at time.Time) {
		t.Helper()
		w.setClock(at)
		if err := w.overdue.Look(w.ctx); err != nil {
			t.Fatal(err)
		}
	}
	to := func(id string, open bool) (all []*pb.Notice) {
		t.Helper()
		got, err := w.rolls.ListNotices(w.as(id), &pb.ListNoticesRequest{Parent: club + "/members/" + id, OpenOnly: open})
		if err != nil {
			t.Fatal(told(err))
		}
		return got.Notices
	}
	w.setClock(sunday13(11, 0))
	if err := w.mark("lea", ride.Name, "a", "ada", pb.Mark_IN_GROUP, 11, 0); err != nil {
		t.Fatal(told(err))
	}
	look(home.Add(30*time.Minute - time.Second))
	entries := len(w.auditLog())
	if n := len(to("lea", false)); n != 0 {
		t.Fatalf("%d notices before the grace is over", n)
	}
	for range 3 {
		look(home.Add(31 * time.Minute))
	}
	if got := to("lea", true); len(got) != 1 || len(got[0].Riders) != 3 || len(got[0].Open) != 3 || !strings.Contains(got[0].Text, "last mark in-group at 11:00") {
		t.Errorf("%v", got)
	}
	if n := len(w.auditLog()); n != entries+1 {
		t.Errorf("%d entries in the audit log", n-entries)
	}
	for i, id := range []string{"ben", "lea"} {
		if err := w.mark("lea", ride.Name, fmt.Sprint("h", i), id, pb.Mark_HOME, 15, 0); err != nil {
			t.Fatal(told(err))
		}
	}
	look(home.Add(61 * time.Minute))
	look(home.Add(62 * time.Minute))
	if got := to("sec", false); len(got) != 1 || !slices.Equal(got[0].Riders, []string{club + "/members/ada"}) || got[0].Step != pb.Notice_SECRETARY {
		t.Errorf("%v", got)
	}
	if err := w.mark("lea", ride.Name, "last", "ada", pb.Mark_HOME, 16, 0); err != nil {
		t.Fatal(told(err))
	}
	if open, all := to("sec", true), to("sec", false); len(open) != 0 || len(all) != 1 {
		t.Errorf("%d open, %d in all", len(open), len(all))
	}
	_, err := w.rolls.ListNotices(w.as("lea"), &pb.ListNoticesRequest{Parent: club + "/members/sec"})
	if !strings.HasPrefix(told(err), "PermissionDenied") {
		t.Errorf("another's notices: %s", told(err))
	}
}

// TestTenThousandMarks: ten thousand marks with hostile notes are kept, counted, and listed; they do not grow beyond the limit.
func TestTenThousandMarks(t *testing.T) {
	w, ride := closingWorld(t)
	w.setClock(sunday13(12, 0))
	notes := []string{"'; DROP TABLE marks; --", "<script>alert(1)</script>", "{{.}}%s%n", strings.Repeat("é", 300), "../../etc/passwd"}
	for batch := range 10 {
		request := &pb.RecordMarksRequest{Parent: ride.Name}
		for i := range 1000 {
			request.Marks = append(request.Marks, &pb.Mark{Name: fmt.Sprintf("%s/marks/m%d-%d", ride.Name, batch, i), Member: club + "/members/ben",
				What: pb.Mark_IN_GROUP, At: timestamppb.New(sunday13(11, i%60)), Note: notes[i%5]})
		}
		if _, err := w.rolls.RecordMarks(w.as("lea"), request); err != nil {
			t.Fatal(told(err))
		}
		if batch == 0 { // again, and nothing changes
			answer, err := w.rolls.RecordMarks(w.as("lea"), proto.CloneOf(request))
			if err != nil || answer.Marks[999].Number != 1000 {
				t.Fatalf("%v", told(err))
			}
		}
	}
	call, roll := w.roll(ride.Name, "ben")
	if call.Newest != 10_000 || roll.State != pb.RiderRoll_OUT {
		t.Errorf("%d marks, %v", call.Newest, roll)
	}
}

// TestMarksSentAgain: marks that are there already leave no entry and no change; of a call with some new ones, those count.
func TestMarksSentAgain(t *testing.T) {
	w, ride := closingWorld(t)
	w.setClock(sunday13(12, 0))
	mark := func(id, member string) *pb.Mark {
		return &pb.Mark{Name: ride.Name + "/marks/" + id, Member: club + "/members/" + member, What: pb.Mark_IN_GROUP, At: timestamppb.New(sunday13(11, 0))}
	}
	changes := func() (n int) {
		err := w.ledger.View(w.ctx, "fenwick", func(tx *ledger.Tx) error {
			return tx.Changes(names.Last(ride.Name), 0, 1000, func(*pb.RideChange) error { n++; return nil })
		})
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	for _, c := range []struct {
		name  string
		marks []*pb.Mark
		entry string
	}{
		{"new", []*pb.Mark{mark("b1", "ben"), mark("b2", "ben")}, "marked 1 rider"},
		{"the same", []*pb.Mark{mark("b1", "ben"), mark("b2", "ben")}, ""},
		{"one of them", []*pb.Mark{mark("b2", "ben")}, ""},
		{"one is new", []*pb.Mark{mark("b1", "ben"), mark("l1", "lea"), mark("b3", "ben")}, "marked 2 riders"},
		{"no longer", []*pb.Mark{mark("b1", "ben"), mark("l1", "lea"), mark("b3", "ben")}, ""},
	} {
		entries, before := len(w.auditLog()), changes()
		answer, err := w.rolls.RecordMarks(w.as("lea"), &pb.RecordMarksRequest{Parent: ride.Name, Marks: c.marks})
		if err != nil || len(answer.Marks) != len(c.marks) {
			t.Fatalf("%s: %v, %s", c.name, answer, told(err))
		}
		left, more := w.auditLog()[entries:], changes()-before
		switch {
		case c.entry == "" && (len(left) != 0 || more != 0):
			t.Errorf("%s: %d changes, and entries %v", c.name, more, left)
		case c.entry != "" && (len(left) != 1 || left[0].What != c.entry || more == 0):
			t.Errorf("%s: %d changes, and entries %v", c.name, more, left)
		}
	}
}
