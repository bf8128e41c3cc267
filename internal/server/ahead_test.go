package server_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/server"
	"gritward/internal/store/enginetest"
	pb "gritward/proto/gritward/v1"
)

// lookers has the ride's leader look at all that is told of who rides where, and a rider at the roster.
func (w *world) lookers(ride string) (seen []proto.Message) {
	w.t.Helper()
	look := func(answer proto.Message, err error) {
		w.t.Helper()
		if err != nil {
			w.t.Fatal(told(err))
		}
		if issue, is := answer.(*pb.Roster); is { // it came over the wire as bytes
			answer = proto.CloneOf(issue)
		}
		seen = append(seen, answer)
	}
	who := w.as("lea")
	placed, err := w.rides.PlaceRide(who, &pb.PlaceRideRequest{Name: ride})
	look(placed, err)
	plan, err := w.rides.PlanRide(who, &pb.PlanRideRequest{Name: ride})
	look(plan, err)
	why, err := w.rides.ExplainPlace(who, &pb.ExplainPlaceRequest{Name: ride + "/signups/mia"})
	look(why, err)
	for _, reader := range []string{"lea", "bo"} {
		issue, err := w.rides.GetRoster(w.as(reader), &pb.GetRosterRequest{Name: ride + "/rosters/-"})
		look(issue, err)
	}
	return seen
}

// changes are deeds after which people ride otherwise, or something else is told of them.
func (w *world) changes(ride string) []func() error {
	signup := func(id string) string { return ride + "/signups/" + id }
	return []func() error{
		func() error {
			_, err := w.rides.WithdrawSignup(w.as("ben"), &pb.WithdrawSignupRequest{Name: signup("ben")})
			return err
		},
		func() error {
			_, err := w.join("ben", ride, club+"/members/ben/bikes/bike-1", &pb.Signup{PreferredGroup: "brisk"})
			return err
		},
		func() error {
			facts := bike("mint bike", 300)
			facts.Guards = nil
			w.declare("mia", facts)
			return nil
		},
		func() error {
			changed, err := w.rides.GetRide(w.as("lea"), &pb.GetRideRequest{Name: ride})
			if err != nil {
				return err
			}
			changed.Groups[0].MaxSize = 2
			_, err = w.rides.UpdateRide(w.as("lea"), &pb.UpdateRideRequest{Ride: changed, UpdateMask: mask("groups")})
			return err
		},
	}
}

// TestAhead changes a ride again and again. With a pause after each change whoever looks next is told what others are told without one, and
// nothing is made or read anew for it.
func TestAhead(t *testing.T) {
	with, ride := pinned(t)
	without, _ := pinned(t)
	for _, w := range []*world{with, without} {
		w.publish("lea", ride.Name)
		w.lookers(ride.Name)
	}
	deeds, same := with.changes(ride.Name), without.changes(ride.Name)
	for i := range deeds {
		if err := errors.Join(deeds[i](), same[i]()); err != nil {
			t.Fatal(told(err))
		}
		changed := with.ahead.State()
		with.ahead.Do(with.ctx)
		paused := with.ahead.State()
		if paused == changed {
			t.Errorf("change %d: nothing is made in the pause: %s", i, paused)
		}
		got := with.lookers(ride.Name)
		if after := with.ahead.State(); after != paused {
			t.Errorf("change %d: made in the pause: %s; after looking: %s", i, paused, after)
		}
		before := without.ahead.State()
		for n, want := range without.lookers(ride.Name) {
			if !proto.Equal(got[n], want) {
				t.Errorf("change %d: told after a pause:\n%v\nand without one:\n%v", i, got[n], want)
			}
		}
		if without.ahead.State() == before {
			t.Errorf("change %d: without a pause nothing is made by looking: %s", i, before)
		}
	}
	if logged := with.log.String(); strings.Contains(logged, "ahead") {
		t.Error(logged)
	}
}

// TestAheadGivenUp: what is wanted is made once a change, for as long as somebody asks for it; a call that comes leaves the rest for the next
// pause; what fails is told in the log, and not tried again until it is asked for.
func TestAheadGivenUp(t *testing.T) {
	w, ride := pinned(t)
	made, fails := map[string]int{}, map[string]error{}
	ctx, call := context.WithCancel(w.ctx)
	ask := func(what string) {
		t.Helper()
		if err := w.ledger.View(w.ctx, names.Last(club), func(tx *ledger.Tx) error {
			w.ahead.Asked(tx, what, func(context.Context, *ledger.Tx) error {
				made[what]++
				switch {
				case what == "a call comes":
					call()
				case what == "breaks":
					panic("a fault of the program")
				}
				return fails[what]
			})
			return nil
		}); err != nil {
			t.Fatal(err)
		}
	}
	in := false
	pause := func(ctx context.Context, change bool, want string) {
		t.Helper()
		if change {
			var err error
			if in {
				_, err = w.join("ben", ride.Name, club+"/members/ben/bikes/bike-1", nil)
			} else {
				_, err = w.rides.WithdrawSignup(w.as("ben"), &pb.WithdrawSignupRequest{Name: ride.Name + "/signups/ben"})
			}
			if in = !in; err != nil {
				t.Fatal(told(err))
			}
		}
		w.ahead.Do(ctx)
		if got := fmt.Sprint(made); got != want {
			t.Fatalf("made %s, want %s", got, want)
		}
	}
	pause(w.ctx, true, "map[]")
	ask("this")
	pause(w.ctx, false, "map[]")
	pause(w.ctx, true, "map[this:1]")
	pause(w.ctx, false, "map[this:1]")
	ask("a call comes")
	pause(ctx, true, "map[a call comes:1 this:1]") // that asked for last comes first
	pause(w.ctx, false, "map[a call comes:2 this:2]")
	fails["fails"] = errors.New("the disk is gone")
	ask("fails")
	ask("breaks")
	pause(w.ctx, true, "map[a call comes:3 breaks:1 fails:1 this:3]")
	pause(w.ctx, true, "map[a call comes:4 breaks:1 fails:1 this:4]")
	for _, told := range []string{"the disk is gone", "a fault of the program"} {
		if strings.Count(w.log.String(), told) != 1 {
			t.Errorf("%q is not told once: %s", told, w.log.String())
		}
	}
	for n := 5; n <= 10; n++ {
		pause(w.ctx, true, fmt.Sprintf("map[a call comes:%d breaks:1 fails:1 this:%d]", n, n))
	}
	pause(w.ctx, true, "map[a call comes:11 breaks:1 fails:1 this:10]") // nobody asks for it; the other was given up once
	ask("this")
	w.setClock(w.clock().Add(11 * time.Minute))
	pause(w.ctx, true, "map[a call comes:11 breaks:1 fails:1 this:10]")
}

// TestAheadUnderWay: of a ride that is under way by now nothing is placed, and nobody is told of a fault; nor where the store is closed.
func TestAheadUnderWay(t *testing.T) {
	w, ride := pinned(t)
	w.publish("lea", ride.Name)
	w.lookers(ride.Name)
	if _, err := w.rides.CallOffRide(w.as("lea"), &pb.CallOffRideRequest{Name: ride.Name, Reason: "ice"}); err != nil {
		t.Fatal(told(err))
	}
	w.ahead.Do(w.ctx)
	if state := w.ahead.State(); !strings.HasSuffix(state, " 2 wanted") { // the start limits and the issue
		t.Error(state)
	}
	if logged := w.log.String(); strings.Contains(logged, "ahead") {
		t.Error(logged)
	}
}

// TestAheadClosed: nothing is made once the store is closed, and nobody is told of a fault.
func TestAheadClosed(t *testing.T) {
	opened := enginetest.Open(t, filepath.Join(t.TempDir(), "club.db"), time.Now)
	l, ahead, log := ledger.New(opened, time.Now), server.NewAhead(), &safeBuffer{}
	if _, err := server.New(server.Config{Ledger: l, Ahead: ahead, Log: slog.New(slog.NewTextHandler(log, nil))}); err != nil {
		t.Fatal(err)
	}
	found := func(tx *ledger.Tx) error { return tx.Found(&pb.Club{Title: "Moor", Zone: "UTC"}) }
	asked := func(tx *ledger.Tx) error {
		ahead.Asked(tx, "this", func(context.Context, *ledger.Tx) error { t.Error("made"); return nil })
		return nil
	}
	if err := errors.Join(l.View(t.Context(), "moor", asked), l.Update(t.Context(), "moor", found), opened.Close()); err != nil {
		t.Fatal(err)
	}
	ahead.Do(t.Context())
	if log.String() != "" {
		t.Error(log.String())
	}
}

// TestAheadOtherClubs: what other clubs of the same store write has nothing made again and again, and a change of its own club does still.
func TestAheadOtherClubs(t *testing.T) {
	w, ride := pinned(t)
	made := 0
	if err := w.ledger.View(w.ctx, names.Last(club), func(tx *ledger.Tx) error {
		w.ahead.Asked(tx, "this", func(context.Context, *ledger.Tx) error { made++; return nil })
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	for i := range 12 {
		if err := w.ledger.Update(w.ctx, "moor", func(tx *ledger.Tx) error {
			if i == 0 {
				return tx.Found(&pb.Club{Title: "Moor", Zone: "UTC"})
			}
			return tx.Append(&pb.AuditEntry{Actor: names.Member("moor", "ann"), Method: "ClubService/UpdateMember", What: "changed a member"})
		}); err != nil {
			t.Fatal(err)
		}
		w.ahead.Do(w.ctx)
	}
	if made > 1 {
		t.Errorf("made %d times, and nothing of this club changed", made)
	}
	before := made
	if _, err := w.rides.WithdrawSignup(w.as("ben"), &pb.WithdrawSignupRequest{Name: ride.Name + "/signups/ben"}); err != nil {
		t.Fatal(told(err))
	}
	if w.ahead.Do(w.ctx); made != before+1 {
		t.Errorf("made %d times after a change, and %d times before", made, before)
	}
}
