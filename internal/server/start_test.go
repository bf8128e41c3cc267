package server_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/ledger"
	pb "gritward/proto/gritward/v1"
)

// onSunday is a time of Sunday.
func onSunday(hour, minute int) time.Time {
	return time.Date(2026, 12, 13, hour, minute, 0, 0, time.UTC)
}

// carPark is a ride of Sunday with an issue: lea, ben and mia, whose rear lamp lasts an hour, in Brisk; ada and bo in Easy.
func carPark(t testing.TB) (*world, *pb.Ride) {
	t.Helper()
	w := newWorldSending(t)
	people(w)
	facts := bike("mint bike", 300)
	facts.Lights[1].RuntimeMin = proto.Float64(60)
	w.declare("mia", facts)
	if _, err := w.clubs.UpdateMember(w.as("ben"), &pb.UpdateMemberRequest{Member: &pb.Member{Name: club + "/members/ben", Email: "ben@example.org"},
		UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"email"}}}); err != nil {
		t.Fatal(told(err))
	}
	ride := w.ride("lea", sunday())
	for _, id := range []string{"lea", "ben", "ada", "bo", "mia"} {
		if _, err := w.join(id, ride.Name, club+"/members/"+id+"/bikes/bike-1", nil); err != nil {
			t.Fatal(told(err))
		}
	}
	w.publish("lea", ride.Name)
	ride, err := w.rides.GetRide(w.as("lea"), &pb.GetRideRequest{Name: ride.Name})
	if err != nil {
		t.Fatal(told(err))
	}
	return w, ride
}

func (w *world) late(ride, start, group string) (*pb.LateStart, error) {
	return w.starts.GetLateStart(w.as("lea"), &pb.GetLateStartRequest{Name: ride, StartLocal: start, Group: group})
}

// TestLateStart: after the planned start a look tells who is out after dark and whose lights no longer last, and changes
// nothing; the start is put back then, the planned one kept, and the next issue published.
func TestLateStart(t *testing.T) {
	w, ride := carPark(t)
	w.setClock(onSunday(10, 39).Add(20 * time.Second))
	soon, err := w.late(ride.Name, "", "")
	if err != nil || soon.StartLocal != "2026-12-13T10:40" || soon.Issue != 1 {
		t.Fatalf("now: %v %s", soon, told(err))
	}
	for _, group := range soon.Groups {
		if got := group.After.HomeAt.AsTime().Sub(group.Before.HomeAt.AsTime()); got < 9*time.Minute || got > 11*time.Minute {
			t.Errorf("%s is home %v later, started 10 min late in the same weather", group.Group, got)
		}
	}
	late, err := w.late(ride.Name, "2026-12-13T13:00", "")
	if err != nil {
		t.Fatal(told(err))
	}
	brisk := late.Groups[0]
	if brisk.Group != "brisk" || brisk.Riders != 3 || brisk.Before.DarkMin != 0 || brisk.After.DarkMin <= 0 || len(brisk.Worse) == 0 {
		t.Fatalf("brisk: %v", brisk)
	}
	at := slices.IndexFunc(brisk.Worse, func(r *pb.LateRider) bool { return r.DisplayName == "Mia" })
	if at < 0 || !brisk.Worse[at].Lights || brisk.Worse[at].After != pb.Standing_HELD || brisk.Worse[at].Findings[0].Remedy == "" ||
		brisk.Worse[at].Findings[0].Shortfall == "" {
		t.Errorf("worse: %v", brisk.Worse)
	}
	if !slices.ContainsFunc(late.Moved, func(m *pb.Move) bool { return m.DisplayName == "Mia" && m.From == "brisk" }) {
		t.Errorf("moved: %v", late.Moved)
	}
	stands, err := w.rides.GetRide(w.as("lea"), &pb.GetRideRequest{Name: ride.Name})
	if err != nil || !proto.Equal(stands, ride) {
		t.Errorf("a look changed the ride: %v %s", stands, told(err))
	}
	var back *pb.Ride
	for range 2 { // the second is a repeat
		if back, err = w.starts.PutBackStart(w.as("lea"), &pb.PutBackStartRequest{Name: ride.Name, StartLocal: "2026-12-13T13:00", Reason: "ice"}); err != nil {
			t.Fatal(told(err))
		}
	}
	if back.StartLocal != "2026-12-13T13:00" || len(back.PutBacks) != 1 || !back.PutBacks[0].FromAt.AsTime().Equal(ride.StartAt.AsTime()) {
		t.Errorf("put back: %v", back)
	}
	second := w.publish("lea", ride.Name)
	if second.Number != 2 || groupOf(second, "mia") == "brisk" {
		t.Errorf("issue %d has Mia in %q", second.Number, groupOf(second, "mia"))
	}
	if easy, err := w.late(ride.Name, "2026-12-13T13:20", "easy"); err != nil || easy.Groups[0].After.StartAt.AsTime() != onSunday(13, 0) ||
		easy.Groups[1].After.StartAt.AsTime() != onSunday(13, 20) {
		t.Errorf("easy alone: %v %s", easy, told(err))
	}
}

// TestLateStartRefused: what is no late start of the ride is refused, with what to do.
func TestLateStartRefused(t *testing.T) {
	w, ride := carPark(t)
	w.setClock(onSunday(10, 40))
	for name, c := range map[string]struct{ start, group, want string }{
		"before the planned start": {"2026-12-13T10:15", "", "start_local: 2026-12-13T10:15 is before the planned start, 2026-12-13T10:30"},
		"past":                     {"2026-12-13T10:35", "", "start_local: 2026-12-13T10:35 is past; it is 2026-12-13T10:40 now"},
		"days later":               {"2026-12-15T10:45", "", "start_local: 2026-12-15T10:45 is not on the day of the ride, 2026-12-13"},
		"no time":                  {"half past ten", "", "start_local: "},
		"no such minute":           {"2026-12-13T10:75", "", "start_local: "},
		"a group not there":        {"2026-12-13T10:45", "snail", `group: there is no group "snail"; there is brisk, easy`},
		"a group far behind":       {"2026-12-13T13:45", "easy", "start_local: a group starts from 0 to 180 min after the ride"},
	} {
		if _, err := w.late(ride.Name, c.start, c.group); !strings.Contains(told(err), c.want) {
			t.Errorf("%s: %s", name, told(err))
		}
		_, err := w.starts.PutBackStart(w.as("lea"), &pb.PutBackStartRequest{Name: ride.Name, StartLocal: c.start, Group: c.group})
		if !strings.Contains(told(err), c.want) {
			t.Errorf("%s, set: %s", name, told(err))
		}
	}
	_, err := w.starts.PutBackStart(w.as("lea"), &pb.PutBackStartRequest{Name: ride.Name, StartLocal: "2026-12-13T10:45", Etag: "old"})
	if !strings.Contains(told(err), "CHANGED_MEANWHILE") {
		t.Errorf("an old etag: %s", told(err))
	}
	if _, err := w.change("lea", &pb.Ride{Name: ride.Name, StartLocal: "2026-12-13T11:00"}, "start_local"); !strings.Contains(told(err), "put the start back as a late one") {
		t.Errorf("planned anew: %s", told(err))
	}
}

// TestLateOverClockChange: clocks go forward at 01:00 UTC on 28 March 2027 in the club's zone (Europe/London, IANA tz database).
func TestLateOverClockChange(t *testing.T) {
	w := newWorld(t)
	people(w)
	night := sunday()
	night.StartLocal = "2027-03-28T00:30"
	ride := w.ride("lea", night)
	if _, err := w.join("lea", ride.Name, club+"/members/lea/bikes/bike-1", nil); err != nil {
		t.Fatal(told(err))
	}
	w.setClock(time.Date(2027, 3, 28, 0, 40, 0, 0, time.UTC))
	if _, err := w.late(ride.Name, "2027-03-28T01:15", ""); !strings.Contains(told(err), "CIVIL_TIME") {
		t.Errorf("a time that the clocks skip: %s", told(err))
	}
	late, err := w.late(ride.Name, "2027-03-28T02:05", "")
	if err != nil || !late.StartAt.AsTime().Equal(ride.StartAt.AsTime().Add(35*time.Minute)) {
		t.Errorf("%v %s", late, told(err))
	}
}

// TestUnderWay: past the planned start everything may change until somebody is marked as set off, and nothing after.
func TestUnderWay(t *testing.T) {
	w, ride := carPark(t)
	w.member("Tim", &pb.Member{PaceMinKmh: 25, PaceMaxKmh: 29})
	tims := w.declare("tim", bike("black bike", 300))
	w.declare("ben", bike("blue bike", 300))
	w.setClock(onSunday(10, 40))
	if _, err := w.join("tim", ride.Name, tims, nil); !strings.Contains(told(err), "SIGNUP_CLOSED") {
		t.Errorf("Tim signs up himself: %s", told(err))
	}
	turnsUp := func() error {
		_, err := w.rides.JoinRide(w.as("lea"), &pb.JoinRideRequest{Parent: ride.Name, Signup: &pb.Signup{Member: club + "/members/tim", Bike: tims}})
		return err
	}
	swaps := func() error {
		_, err := w.join("ben", ride.Name, club+"/members/ben/bikes/bike-2", nil)
		return err
	}
	deeds := map[string]func() error{
		"turns up": turnsUp, "swaps": swaps,
		"pin": func() error {
			_, err := w.rides.PinRider(w.as("lea"), &pb.PinRiderRequest{Parent: ride.Name, Member: club + "/members/ben", Group: "brisk", Reason: "knows the way"})
			return err
		},
		"place": func() error {
			_, err := w.rides.PlaceRide(w.as("lea"), &pb.PlaceRideRequest{Name: ride.Name})
			return err
		},
		"change": func() error {
			_, err := w.change("lea", &pb.Ride{Name: ride.Name, MeetingPoint: "The barn"}, "meeting_point")
			return err
		},
		"look": func() error { _, err := w.late(ride.Name, "", ""); return err },
	}
	for name, do := range deeds {
		if err := do(); err != nil {
			t.Errorf("%s before anybody set off: %s", name, told(err))
		}
	}
	if err := w.mark("lea", ride.Name, "gone", "bo", pb.Mark_NO_SHOW, 10, 40); err != nil {
		t.Fatal(told(err))
	}
	issue := w.publish("lea", ride.Name)
	if issue.Number != 2 || groupOf(issue, "tim") != "brisk" || groupOf(issue, "bo") != "" {
		t.Errorf("issue %d: Tim in %q, Bo in %q", issue.Number, groupOf(issue, "tim"), groupOf(issue, "bo"))
	}
	if err := w.mark("lea", ride.Name, "off", "lea", pb.Mark_SET_OFF, 10, 40); err != nil {
		t.Fatal(told(err))
	}
	deeds["publish"] = func() error {
		_, err := w.rides.PublishRoster(w.as("lea"), &pb.PublishRosterRequest{Parent: ride.Name})
		return err
	}
	deeds["put back"] = func() error {
		_, err := w.starts.PutBackStart(w.as("lea"), &pb.PutBackStartRequest{Name: ride.Name})
		return err
	}
	deeds["withdraw"] = func() error {
		_, err := w.rides.WithdrawSignup(w.as("ben"), &pb.WithdrawSignupRequest{Name: ride.Name + "/signups/ben"})
		return err
	}
	deeds["call off"] = func() error {
		_, err := w.rides.CallOffRide(w.as("lea"), &pb.CallOffRideRequest{Name: ride.Name, Reason: "ice"})
		return err
	}
	for name, do := range deeds {
		if got := told(do()); !strings.HasPrefix(got, "FailedPrecondition | RIDE_OVER | the ride is under way: the first riders set off at 10:40") {
			t.Errorf("%s under way: %s", name, got)
		}
	}
	if _, err := w.rolls.RecordMarks(w.as("lea"), &pb.RecordMarksRequest{Parent: ride.Name, Marks: []*pb.Mark{{
		Name: ride.Name + "/marks/not", Member: club + "/members/lea", What: pb.Mark_STRIKE, Strikes: "off"}}}); err != nil {
		t.Fatal(told(err))
	}
	if err := deeds["call off"](); err != nil {
		t.Errorf("called off when the mark was a mistake: %s", told(err))
	}
	soon := 0
	if err := w.ledger.View(w.ctx, "fenwick", func(tx *ledger.Tx) error {
		return tx.Letters(ride.Name[strings.LastIndex(ride.Name, "/")+1:], func(letter *pb.Letter) error {
			if letter.Kind == pb.Letter_CALLED_OFF && letter.GiveUpAt.AsTime().After(w.clock().Add(time.Hour)) {
				soon++
			}
			return nil
		})
	}); err != nil || soon != 1 { // Ben gave an address
		t.Errorf("%d letters say it for an hour and more, %v", soon, err)
	}
}

// TestSetOffEarly: once the first riders set off before the planned start, nobody signs up any more, the ride says so to who looks at
// it, and a member is told so as a member.
func TestSetOffEarly(t *testing.T) {
	w, ride := carPark(t)
	w.member("Tim", &pb.Member{PaceMinKmh: 25, PaceMaxKmh: 29})
	tims := w.declare("tim", bike("black bike", 300))
	w.setClock(onSunday(10, 10))
	tells := func() (told [2]*timestamppb.Timestamp) {
		one, err := w.rides.GetRide(w.as("tim"), &pb.GetRideRequest{Name: ride.Name})
		if err != nil {
			t.Fatal(err)
		}
		all, err := w.rides.ListRides(w.as("tim"), &pb.ListRidesRequest{Parent: club})
		if err != nil || len(all.Rides) != 1 {
			t.Fatal(all, err)
		}
		return [2]*timestamppb.Timestamp{one.SetOffAt, all.Rides[0].SetOffAt}
	}
	if told := tells(); told[0] != nil || told[1] != nil {
		t.Errorf("before anybody set off: %v", told)
	}
	if err := w.mark("lea", ride.Name, "off", "lea", pb.Mark_SET_OFF, 10, 5); err != nil {
		t.Fatal(told(err))
	}
	for _, at := range tells() {
		if !at.AsTime().Equal(onSunday(10, 5)) {
			t.Errorf("set off at %v", at.AsTime())
		}
	}
	const under = "FailedPrecondition | RIDE_OVER | the ride is under way: the first riders set off at 10:05; "
	_, err := w.join("tim", ride.Name, tims, nil)
	if got := told(err); !strings.HasPrefix(got, under+"sign-ups stay as they are from then on; speak to the ride leader") {
		t.Errorf("a member is told: %s", got)
	}
	_, err = w.rides.WithdrawSignup(w.as("ben"), &pb.WithdrawSignupRequest{Name: ride.Name + "/signups/ben"})
	if got := told(err); !strings.HasPrefix(got, under+"sign-ups stay as they are from then on; speak to the ride leader") {
		t.Errorf("who withdraws is told: %s", got)
	}
	_, err = w.rides.JoinRide(w.as("lea"), &pb.JoinRideRequest{Parent: ride.Name, Signup: &pb.Signup{Member: club + "/members/tim", Bike: tims}})
	if got := told(err); !strings.HasPrefix(got, under+"mark in the roll call who rides where") {
		t.Errorf("the leader is told: %s", got)
	}
	w.setClock(onSunday(10, 31))
	if told := tells(); told[0] != nil || told[1] != nil {
		t.Errorf("past the start: %v", told)
	}
}

// TestNoShow: who did not come leaves a place: before the start to who has waited longest, after it to who stands there.
func TestNoShow(t *testing.T) {
	for name, c := range map[string]struct {
		hour        int
		ada, bo     pb.Signup_State
		afterLeader pb.Signup_State
	}{
		"before the start": {10, pb.Signup_IN, pb.Signup_WAITING, pb.Signup_WAITING},
		"after it":         {11, pb.Signup_WAITING, pb.Signup_WAITING, pb.Signup_IN},
	} {
		t.Run(name, func(t *testing.T) {
			w := newWorld(t)
			people(w)
			few := sunday()
			few.Places = 2
			ride := w.ride("lea", few)
			for _, id := range []string{"lea", "ben", "ada", "bo"} {
				if _, err := w.join(id, ride.Name, club+"/members/"+id+"/bikes/bike-1", nil); err != nil {
					t.Fatal(told(err))
				}
			}
			w.setClock(onSunday(c.hour, 0))
			if err := w.mark("lea", ride.Name, "gone", "ben", pb.Mark_NO_SHOW, c.hour, 0); err != nil {
				t.Fatal(told(err))
			}
			list, err := w.rides.ListSignups(w.as("lea"), &pb.ListSignupsRequest{Parent: ride.Name})
			if err != nil || list.Signups[2].State != c.ada || list.Signups[3].State != c.bo {
				t.Errorf("%v %s", list, told(err))
			}
			bo, err := w.rides.JoinRide(w.as("lea"), &pb.JoinRideRequest{Parent: ride.Name,
				Signup: &pb.Signup{Member: club + "/members/bo", Bike: club + "/members/bo/bikes/bike-1"}})
			if err != nil || bo.State != c.afterLeader {
				t.Errorf("Bo stands there: %v %s", bo.GetState(), told(err))
			}
		})
	}
}
