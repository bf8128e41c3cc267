package rollcall_test

import (
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

// clock is a time on the day of the ride, UTC.
func clock(hour, minute int) time.Time { return time.Date(2026, 12, 13, hour, minute, 0, 0, time.UTC) }

func stamp(hour, minute int) *timestamppb.Timestamp { return timestamppb.New(clock(hour, minute)) }

// becks is a ride of two groups, home at 14:00 and at 15:30, with a stop at 30 km of the first.
func becks() *pb.RollBasis {
	plan := func(id string, home *timestamppb.Timestamp) *pb.GroupPlan {
		return &pb.GroupPlan{Group: id, Title: strings.ToUpper(id[:1]) + id[1:], StartAt: stamp(10, 0), HomeAt: home, DistanceM: 60000, Points: []*pb.PlanPoint{
			{At: stamp(10, 0), What: "start"}, {At: stamp(11, 30), DistanceM: 30000, What: "Barn", LeavesAt: stamp(12, 0)}, {At: home, DistanceM: 60000, What: "home"}}}
	}
	return &pb.RollBasis{
		Ride: "clubs/c/rides/becks", Title: "Four Becks", Zone: "Europe/London", Leader: "clubs/c/members/lea",
		Grace: durationpb.New(30 * time.Minute), ThenSecretary: durationpb.New(20 * time.Minute),
		Plans: []*pb.GroupPlan{plan("brisk", stamp(14, 0)), plan("easy", stamp(15, 30))},
		Riders: []*pb.Expected{{Member: "clubs/c/members/ada", DisplayName: "Ada", Group: "brisk"}, {Member: "clubs/c/members/ben", DisplayName: "Ben", Group: "brisk"},
			{Member: "clubs/c/members/cyd", DisplayName: "Cyd", Group: "easy"}, {Member: "clubs/c/members/dov", DisplayName: "Dov"}},
	}
}

func mark(id, member string, what pb.Mark_What, hour, minute int) *pb.Mark {
	return &pb.Mark{Name: "clubs/c/rides/becks/marks/" + id, Member: "clubs/c/members/" + member, What: what, At: stamp(hour, minute), Device: "phone"}
}

// rider finds one rider of a roll call.
func rider(t *testing.T, call *pb.RollCall, id string) *pb.RiderRoll {
	t.Helper()
	for _, roll := range call.Riders {
		if roll.Member == "clubs/c/members/"+id {
			return roll
		}
	}
	t.Fatalf("%s is not in the roll call", id)
	return nil
}

// TestStates: the later mark by its own time decides, not the one that came later.
func TestStates(t *testing.T) {
	at := func(minute int, what pb.Mark_What) *pb.Mark {
		return mark(strings.ToLower(what.String()), "ada", what, 10, minute)
	}
	struck := at(9, pb.Mark_STRIKE)
	struck.Strikes = "home"
	for name, c := range map[string]struct {
		marks []*pb.Mark
		want  pb.RiderRoll_State
	}{
		"none":                        {nil, pb.RiderRoll_NOT_SEEN},
		"the bike is there":           {[]*pb.Mark{at(1, pb.Mark_LOOKED_OVER)}, pb.RiderRoll_SIGNED_ON},
		"looked over on the way":      {[]*pb.Mark{at(1, pb.Mark_IN_GROUP), at(2, pb.Mark_LOOKED_OVER)}, pb.RiderRoll_OUT},
		"home, told first":            {[]*pb.Mark{at(9, pb.Mark_HOME), at(1, pb.Mark_SIGNED_ON)}, pb.RiderRoll_HOME},
		"in the group later":          {[]*pb.Mark{at(5, pb.Mark_HOME), at(6, pb.Mark_IN_GROUP)}, pb.RiderRoll_OUT},
		"turned back and not home":    {[]*pb.Mark{at(5, pb.Mark_TURNED_BACK)}, pb.RiderRoll_TURNED_BACK},
		"handed over":                 {[]*pb.Mark{at(6, pb.Mark_HANDED_OVER), at(5, pb.Mark_TURNED_BACK)}, pb.RiderRoll_HANDED_OVER},
		"not there, then there":       {[]*pb.Mark{at(1, pb.Mark_NO_SHOW), at(2, pb.Mark_SIGNED_ON)}, pb.RiderRoll_SIGNED_ON},
		"not there, but the bike was": {[]*pb.Mark{at(1, pb.Mark_NO_SHOW), at(2, pb.Mark_LOOKED_OVER)}, pb.RiderRoll_SIGNED_ON},
		"home by mistake":             {[]*pb.Mark{at(1, pb.Mark_IN_GROUP), at(5, pb.Mark_HOME), struck}, pb.RiderRoll_OUT},
		"the strike comes first":      {[]*pb.Mark{struck, at(5, pb.Mark_HOME)}, pb.RiderRoll_NOT_SEEN},
	} {
		if roll := rider(t, rollcall.Call(becks(), c.marks, clock(10, 30)), "ada"); roll.State != c.want {
			t.Errorf("%s: %v", name, roll)
		}
	}
}

// TestStory follows a ride: the group sets off and takes who is signed on along, one turns back, one never signed on, and
// past the grace the rest is overdue, at the place where the plan has the group.
func TestStory(t *testing.T) {
	marks := []*pb.Mark{
		mark("1", "ada", pb.Mark_SIGNED_ON, 9, 50), mark("2", "ben", pb.Mark_SIGNED_ON, 9, 52), mark("3", "ada", pb.Mark_SET_OFF, 10, 2),
		mark("4", "ben", pb.Mark_TURNED_BACK, 10, 40), mark("5", "cyd", pb.Mark_IN_GROUP, 11, 20), mark("6", "eve", pb.Mark_IN_GROUP, 11, 20),
	}
	call := rollcall.Call(becks(), marks, clock(12, 30))
	for id, want := range map[string]struct {
		state   pb.RiderRoll_State
		planned string
		doubts  string
	}{
		"ada": {pb.RiderRoll_OUT, "37.5 km of 60 km", ""},
		"ben": {pb.RiderRoll_TURNED_BACK, "37.5 km of 60 km", ""},
		"cyd": {pb.RiderRoll_OUT, "34.3 km of 60 km", "never signed on"},
		"dov": {pb.RiderRoll_NOT_SEEN, "", ""},
		"eve": {pb.RiderRoll_OUT, "", "has no place on this ride|never signed on"},
	} {
		roll := rider(t, call, id)
		if roll.State != want.state || roll.Planned != want.planned || strings.Join(roll.Doubts, "|") != want.doubts || roll.Overdue {
			t.Errorf("%s: %v", id, roll)
		}
	}
	if brisk := call.Groups[0]; brisk.Out != 1 || brisk.TurnedBack != 1 || brisk.Riders != 2 || !brisk.SetOffAt.AsTime().Equal(clock(10, 2)) {
		t.Errorf("%v", brisk)
	}
	for minute, overdue := range map[int]bool{29: false, 30: true} { // home at 14:00, and 30 min of grace
		if roll := rider(t, rollcall.Call(becks(), marks, clock(14, minute)), "ada"); roll.Overdue != overdue {
			t.Errorf("14:%d: %v", minute, roll)
		}
	}
	if roll := rider(t, rollcall.Call(becks(), marks, clock(11, 45)), "ada"); roll.Planned != "Barn, 30 km of 60 km" {
		t.Errorf("%v", roll)
	}
	again := append(marks, mark("7", "ada", pb.Mark_HOME, 13, 50), mark("8", "ada", pb.Mark_IN_GROUP, 13, 55))
	if roll := rider(t, rollcall.Call(becks(), again, clock(14, 0)), "ada"); strings.Join(roll.Doubts, "") != "home at 13:50, but out with the group at 13:55" {
		t.Errorf("%v", roll)
	}
}

// TestClosed: who is out by a mark after the closing is told; whom the secretary knew of is not overdue, and with the ride
// opened again is.
func TestClosed(t *testing.T) {
	basis := becks()
	basis.Closings = []*pb.Closing{{Number: 1, Group: "brisk"}, {Number: 2, Open: []string{"clubs/c/members/cyd", "clubs/c/members/dov"}}}
	home := []*pb.Mark{mark("1", "ada", pb.Mark_HOME, 13, 50), mark("2", "ben", pb.Mark_HOME, 13, 50)}
	call := rollcall.Call(basis, home, clock(17, 0))
	if !call.Closed || len(call.Doubts) > 0 || rider(t, call, "cyd").Overdue {
		t.Errorf("%v", call)
	}
	call = rollcall.Call(basis, append(home, mark("3", "ben", pb.Mark_IN_GROUP, 14, 10)), clock(17, 0))
	if want := "Ben is out with the group by a mark that came after the closing; open the roll call again"; len(call.Doubts) != 1 || call.Doubts[0] != want || !rider(t, call, "ben").Overdue {
		t.Errorf("%v", call)
	}
	basis.Closings = append(basis.Closings, &pb.Closing{Number: 3, Reopened: true})
	if call = rollcall.Call(basis, home, clock(17, 0)); call.Closed || !rider(t, call, "cyd").Overdue {
		t.Errorf("%v", call)
	}
}

// TestNotices: the leader once, the secretaries once and later, nobody for who is accounted for since, and at once both where
// nobody looked for long.
func TestNotices(t *testing.T) {
	marks := []*pb.Mark{mark("1", "ada", pb.Mark_IN_GROUP, 13, 0), mark("2", "ben", pb.Mark_HOME, 13, 50)}
	marks[0].Note, marks[0].LatDeg, marks[0].LonDeg = "her brother is on 0000 000000", proto.Float64(54.1), proto.Float64(-2.25)
	var told []*pb.Notice
	secretaries := []string{"clubs/c/members/sec", "clubs/c/members/lea"}
	look := func(hour, minute int) string {
		made := rollcall.Notices(rollcall.Call(becks(), marks, clock(hour, minute)), told, secretaries)
		told = append(told, made...)
		var said []string
		for _, notice := range made {
			line := notice.To[len("clubs/c/members/"):] + ":"
			for _, one := range notice.Riders {
				line += " " + one[len("clubs/c/members/"):]
			}
			said = append(said, line)
		}
		return strings.Join(said, ", ")
	}
	for _, c := range []struct {
		hour, minute int
		want         string
	}{{14, 29, ""}, {14, 30, "lea: ada"}, {14, 31, ""}, {14, 49, ""}, {14, 50, "sec: ada"}, {14, 51, ""}, {16, 0, "lea: cyd dov"}, {23, 0, "sec: cyd dov"}, {23, 1, ""}} {
		if got := look(c.hour, c.minute); got != c.want {
			t.Errorf("%02d:%02d: %q, want %q", c.hour, c.minute, got, c.want)
		}
	}
	text := told[0].Text
	for _, part := range []string{"1 rider is overdue on Four Becks, at 14:30.\n", "Ada: out with the group; last mark in-group at 13:00 at 54.10000,-2.25000; Brisk by its plan: home since 14:00.",
		"gritward ride contacts becks MEMBER", rollcall.Emergency} {
		if !strings.Contains(text, part) {
			t.Errorf("%q is not in %q", part, text)
		}
	}
	if strings.Contains(text, "brother") {
		t.Errorf("a note stands in %q", text)
	}
	told = nil
	if got := look(23, 0); got != "lea: ada cyd dov, sec: ada cyd dov" {
		t.Errorf("after a long stop: %s", got)
	}
}

// TestAnyOrder: the same set of marks gives the same roll call, however the marks are delayed, repeated, put in another order, or
// parted over devices.
func TestAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		people := []string{"ada", "ben", "cyd", "dov", "eve"}
		count := rapid.IntRange(0, 40).Draw(t, "count")
		var marks []*pb.Mark
		for i := range count {
			one := mark(rapid.StringMatching(`[a-z]{1,3}`).Draw(t, "id")+"-"+string(rune('a'+i%26))+string(rune('a'+i/26)), rapid.SampledFrom(people).Draw(t, "who"),
				pb.Mark_What(rapid.IntRange(1, 9).Draw(t, "what")), rapid.IntRange(9, 16).Draw(t, "hour"), rapid.IntRange(0, 3).Draw(t, "minute"))
			one.Device, one.Number = rapid.SampledFrom([]string{"phone", "tablet"}).Draw(t, "device"), int64(i+1)
			one.Group = rapid.SampledFrom([]string{"", "brisk", "easy"}).Draw(t, "group")
			if ahead := rapid.IntRange(-90, 90).Draw(t, "ahead"); ahead > 60 || ahead < -60 {
				one.ClockAhead = durationpb.New(time.Duration(ahead) * time.Minute)
				one.CorrectedAt = timestamppb.New(one.At.AsTime().Add(-time.Duration(ahead) * time.Minute))
			}
			if one.What == pb.Mark_STRIKE {
				one.Strikes = "none"
				if i > 0 {
					struck := marks[rapid.IntRange(0, i-1).Draw(t, "struck")]
					one.Strikes, one.Member = struck.Name[len("clubs/c/rides/becks/marks/"):], struck.Member
				}
			}
			marks = append(marks, one)
		}
		want := rollcall.Call(becks(), marks, clock(16, 0))
		other := append([]*pb.Mark(nil), marks...)
		if count > 0 {
			for range rapid.IntRange(0, 10).Draw(t, "repeats") {
				other = append(other, marks[rapid.IntRange(0, count-1).Draw(t, "repeated")])
			}
			other = rapid.Permutation(other).Draw(t, "order")
		}
		if got := rollcall.Call(becks(), other, clock(16, 0)); !proto.Equal(got, want) {
			t.Fatalf("%v\nis not\n%v", got, want)
		}
		for _, roll := range want.Riders { // nobody who is placed or marked is lost
			people = append(people, roll.Member)
		}
		seen := map[string]bool{}
		for _, one := range people {
			seen[one] = true
		}
		for _, one := range rollcall.Counting(marks) {
			if !seen[one.Member] {
				t.Fatalf("%s is lost", one.Member)
			}
		}
	})
}

// BenchmarkCall is the roll call of the most marks that a ride may have.
func BenchmarkCall(b *testing.B) {
	basis, marks := becks(), []*pb.Mark(nil)
	for i := range 20_000 {
		one := mark(time.Duration(i).String(), []string{"ada", "ben", "cyd"}[i%3], pb.Mark_IN_GROUP, 10, i%60)
		marks = append(marks, one)
	}
	for b.Loop() {
		rollcall.Call(basis, marks, clock(16, 0))
	}
}

// TestClocksGoBack: a night ride over the hour that the clocks of Europe/London repeat, on 25 October 2026 at 02:00 (IANA time
// zone database). A mark at 01:10 after the change is later than one at 01:50 before it, and grace is told in true minutes.
func TestClocksGoBack(t *testing.T) {
	night := func(hour, minute int) *timestamppb.Timestamp { // UTC: 00:50 is 01:50 summer time, 01:10 is 01:10 again
		return timestamppb.New(time.Date(2026, 10, 25, hour, minute, 0, 0, time.UTC))
	}
	basis := becks()
	basis.Plans = []*pb.GroupPlan{{Group: "brisk", Title: "Brisk", StartAt: night(0, 0), HomeAt: night(1, 30), DistanceM: 30000,
		Points: []*pb.PlanPoint{{At: night(0, 0), What: "start"}, {At: night(1, 30), DistanceM: 30000, What: "home"}}}}
	basis.Riders = basis.Riders[:2]
	marks := []*pb.Mark{
		{Name: "clubs/c/rides/becks/marks/b", Member: "clubs/c/members/ada", What: pb.Mark_HOME, At: night(1, 10)},
		{Name: "clubs/c/rides/becks/marks/a", Member: "clubs/c/members/ada", What: pb.Mark_IN_GROUP, At: night(0, 50)},
		{Name: "clubs/c/rides/becks/marks/c", Member: "clubs/c/members/ben", What: pb.Mark_IN_GROUP, At: night(0, 50)},
	}
	for _, c := range []struct {
		at      *timestamppb.Timestamp
		overdue bool
	}{{night(1, 59), false}, {night(2, 0), true}} {
		call := rollcall.Call(basis, marks, c.at.AsTime())
		if roll := rider(t, call, "ada"); roll.State != pb.RiderRoll_HOME {
			t.Errorf("ada, marked home at 01:10 after the change: %v", roll)
		}
		if roll := rider(t, call, "ben"); roll.Overdue != c.overdue {
			t.Errorf("ben at %s: %v", c.at.AsTime(), roll)
		}
	}
	notices := rollcall.Notices(rollcall.Call(basis, marks, night(2, 0).AsTime()), nil, nil)
	if len(notices) != 1 || !strings.Contains(notices[0].Text, "Brisk by its plan: home since 01:30.") {
		t.Errorf("%v", notices)
	}
}
