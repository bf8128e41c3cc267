package roster_test

import (
	"context"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	"gritward/internal/fault"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// someClub draws entrants of a club, some of them pinned, and pins of groups.
func someClub(r *rapid.T, base roster.Input, most int) roster.Input {
	in := base
	in.Ride = proto.Clone(base.Ride).(*pb.Ride)
	for i := range rapid.IntRange(1, most).Draw(r, "riders") {
		one := entrant(i, rapid.SampledFrom([]float64{16, 20, 22, 25, 27}).Draw(r, "pace"),
			rapid.IntRange(0, 2).Draw(r, "leads") == 0, rapid.IntRange(0, 2).Draw(r, "marks") == 0,
			rapid.SampledFrom([]string{"ready", "ready", "short", "bare"}).Draw(r, "bike"))
		one.Signup.Party = rapid.SampledFrom([]string{"", "", "", "orchard"}).Draw(r, "party")
		in.Entrants = append(in.Entrants, one)
	}
	return in
}

// pin draws pins as somebody would have set them who was never refused: any rider to any group, offered or not.
func pin(r *rapid.T, in roster.Input) {
	for _, one := range in.Entrants {
		if rapid.IntRange(0, 4).Draw(r, "pinned") == 0 {
			one.Signup.Pin = &pb.Pin{Group: rapid.SampledFrom([]string{"brisk", "steady", "easy", "gone"}).Draw(r, "group"), Reason: "so"}
		}
	}
	for _, group := range in.Ride.Groups {
		if rapid.IntRange(0, 4).Draw(r, "group pinned") == 0 {
			in.Ride.GroupPins = append(in.Ride.GroupPins,
				&pb.GroupPin{Group: group.Id, Runs: rapid.Bool().Draw(r, "runs"), Reason: "so"})
		}
	}
}

func place(t interface{ Fatal(...any) }, in roster.Input) *pb.Placement {
	placed, err := roster.Place(context.Background(), in)
	if err != nil {
		t.Fatal(err)
	}
	return placed
}

// groupsIn says who rides in which group, by the member's name, and which groups run.
func groupsIn(placed *pb.Placement) (rides map[string]string, runs map[string]bool) {
	rides, runs = map[string]string{}, map[string]bool{}
	for _, group := range placed.GetGroups() {
		runs[group.Group] = true
		for _, row := range group.Rows {
			for _, rider := range []*pb.Rider{row.Left, row.Right} {
				if rider != nil {
					rides[rider.Member] = group.Group
				}
			}
		}
	}
	return rides, runs
}

// TestPinsHold: whatever is pinned, each pin holds or is named with a reason, and a rider who is pinned rides nowhere else;
// the hard rules hold all the same.
func TestPinsHold(t *testing.T) {
	base := input(t, nil)
	rapid.Check(t, func(r *rapid.T) {
		in := someClub(r, base, 12)
		pin(r, in)
		placed := place(r, in)
		holds(r, in, placed)
		rides, runs := groupsIn(placed)
		told := map[string]*pb.Fixed{}
		for _, one := range placed.Fixed {
			told[one.Member+" "+one.Group] = one
			if !one.Holds && one.Why == "" {
				r.Fatalf("nobody is told why %v does not hold", one)
			}
		}
		pins := 0
		for _, one := range in.Entrants {
			want := one.Signup.Pin.GetGroup()
			if want == "" {
				continue
			}
			pins++
			fixed, got := told[one.Member.Name+" "+want], rides[one.Member.Name]
			if fixed == nil || fixed.Holds != (got == want) || want != "gone" && got != "" && got != want {
				r.Fatalf("%s is pinned to %s, rides in %q, told: %v", one.Member.Name, want, got, fixed)
			}
		}
		for _, one := range in.Ride.GroupPins {
			pins++
			if fixed := told[" "+one.Group]; fixed == nil || fixed.Holds != (runs[one.Group] == one.Runs) || !one.Runs && runs[one.Group] {
				r.Fatalf("%s is to run: %v, runs: %v, told: %v", one.Group, one.Runs, runs[one.Group], fixed)
			}
		}
		if pins != len(placed.Fixed) {
			r.Fatalf("%d pins, %d told", pins, len(placed.Fixed))
		}
	})
}

// TestPinsTaken: a pin that was taken holds in the next placing, and so do those that held before.
func TestPinsTaken(t *testing.T) {
	base := input(t, nil)
	rapid.Check(t, func(r *rapid.T) {
		in := someClub(r, base, 10)
		var taken []*pb.Signup
		for range 3 {
			one := rapid.SampledFrom(in.Entrants).Draw(r, "who")
			group := rapid.SampledFrom([]string{"brisk", "steady", "easy"}).Draw(r, "group")
			why := rapid.SampledFrom([]string{"", "decided"}).Draw(r, "override")
			if one.Signup.Pin != nil {
				continue
			}
			sets, err := roster.PinRider(context.Background(), in, roster.Asked{Member: one.Member.Name, Group: group, Reason: why, HeldBikeRides: why != "", By: "clubs/c/members/m0"})
			if fault.Is(err, pb.Reason_WRONG_STATE) || fault.Is(err, pb.Reason_HELD_BIKE) {
				continue
			}
			if err != nil || why == "" && len(sets) > 0 {
				r.Fatalf("set aside %v: %v", sets, err)
			}
			one.Signup.Pin = &pb.Pin{Group: group, Reason: "so", Overrides: sets}
			taken = append(taken, one.Signup)
		}
		rides, _ := groupsIn(place(r, in))
		for _, signup := range taken {
			if rides[signup.Member] != signup.Pin.Group {
				r.Fatalf("%s was fixed in %s, and rides in %q", signup.Member, signup.Pin.Group, rides[signup.Member])
			}
		}
	})
}

// TestMovesAreTold: after a late sign-up, a withdrawal or a pin everybody whose group changed is told of, with a reason,
// nobody else is; placed again on the same ground nobody moves.
func TestMovesAreTold(t *testing.T) {
	base := input(t, nil)
	rapid.Check(t, func(r *rapid.T) {
		in := someClub(r, base, 12)
		first := place(r, in)
		in.Previous = &pb.Roster{Number: 1, Ride: in.Ride, Plan: in.Plan, Placement: first, PolicyDigest: in.Policy.Digest()}
		if again := place(r, in); again.Moves != 0 || len(again.Moved) != 0 {
			r.Fatalf("on the same ground %d move: %v", again.Moves, again.Moved)
		}
		switch rapid.IntRange(0, 2).Draw(r, "change") {
		case 0:
			in.Entrants = in.Entrants[1:]
		case 1:
			in.Entrants = append(in.Entrants, entrant(99, 22, true, true, "ready"))
		case 2:
			pin(r, in)
		}
		if len(in.Entrants) == 0 {
			return
		}
		second := place(r, in)
		was, _ := groupsIn(first)
		is, _ := groupsIn(second)
		told := map[string]bool{}
		for _, move := range second.Moved {
			if told[move.Member] = true; move.Cause == 0 || move.Why == "" || move.From != was[move.Member] || move.To != is[move.Member] || move.From == move.To {
				r.Fatalf("told: %v", move)
			}
			if !strings.HasSuffix(move.Words, ".") || strings.Contains(move.Words, "..") || strings.Contains(move.Words, "@") || strings.Contains(move.Words, "  ") {
				r.Fatalf("words: %q", move.Words)
			}
		}
		for _, names := range []map[string]string{was, is} {
			for member := range names {
				if told[member] != (was[member] != is[member]) {
					r.Fatalf("%s was in %q and is in %q; told: %v", member, was[member], is[member], told[member])
				}
			}
		}
	})
}

// TestExplain: the group told is that of the placement, every group has a word, and each remedy about the rider's wish
// does what it says when it is followed; TestTogetherHelps follows a wish that helps together with a mended bike.
func TestExplain(t *testing.T) {
	base := input(t, nil)
	rapid.Check(t, func(r *rapid.T) {
		in := someClub(r, base, 10)
		rides, _ := groupsIn(place(r, in))
		who := rapid.SampledFrom(in.Entrants).Draw(r, "who")
		said, err := roster.Explain(context.Background(), in, who.Member.Name)
		if err != nil {
			r.Fatal(err)
		}
		if said.Group != rides[who.Member.Name] || said.Why == "" || len(said.Options) != 3 {
			r.Fatalf("rides in %q, told %v", rides[who.Member.Name], said)
		}
		for _, option := range said.Options {
			if option.Words == "" || (option.Verdict == pb.GroupOption_HERE) != (option.Group == said.Group) {
				r.Fatalf("%v", option)
			}
			for _, remedy := range option.Remedies {
				if !strings.HasPrefix(remedy.Words, "Wish for ") || strings.Contains(remedy.Words, "; ") {
					continue
				}
				who.Signup.PreferredGroup = option.Group
				after, _ := groupsIn(place(r, in))
				who.Signup.PreferredGroup = ""
				if after[who.Member.Name] != option.Group {
					r.Fatalf("%s: rides in %q", remedy.Words, after[who.Member.Name])
				}
			}
		}
	})
}

// crowd is 60 riders of every kind for the five groups of a ride.
func crowd(b *testing.B) roster.Input {
	_, ride := becks(b)
	ride.Groups = append(ride.Groups, &pb.Group{Id: "swift", Title: "Swift", PaceKmh: 30}, &pb.Group{Id: "calm", Title: "Calm", PaceKmh: 20.5})
	line, _ := becks(b)
	planned, err := roster.Plan(ride, line, winter(b), london(b), nil)
	if err != nil {
		b.Fatal(err)
	}
	in := input(b, nil)
	in.Ride, in.Plan = ride, planned
	for i := range 60 {
		in.Entrants = append(in.Entrants, entrant(i, 16+float64(i*7%13), i%6 == 0, i%5 == 0, []string{"ready", "ready", "short", "bare", "ready"}[i%5]))
	}
	return in
}

// BenchmarkExplain explains the place of one rider of 60 in five groups; the limit is 0.2 s.
func BenchmarkExplain(b *testing.B) {
	in, i := crowd(b), 0
	for b.Loop() {
		if _, err := roster.Explain(b.Context(), in, in.Entrants[i%60].Member.Name); err != nil {
			b.Fatal(err)
		}
		i++
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/0.2, "of_limit")
}

// BenchmarkPlace places 60 riders in five groups, with all that is told of it.
func BenchmarkPlace(b *testing.B) {
	in := crowd(b)
	for b.Loop() {
		if _, err := roster.Place(b.Context(), in); err != nil {
			b.Fatal(err)
		}
	}
}
