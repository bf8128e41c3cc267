package server_test

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"gritward/internal/names"
	"gritward/internal/server"
	pb "gritward/proto/gritward/v1"
)

// watch begins to watch a ride, from a change on or from now on.
func (w *world) watchRide(ctx context.Context, ride string, after *int64) grpc.ServerStreamingClient[pb.RideChange] {
	w.t.Helper()
	stream, err := w.rides.WatchRide(ctx, &pb.WatchRideRequest{Name: ride, After: after})
	if err != nil {
		w.t.Fatal(told(err))
	}
	return stream
}

func next(t *testing.T, stream grpc.ServerStreamingClient[pb.RideChange]) string {
	t.Helper()
	change, err := stream.Recv()
	if err != nil {
		return told(err)
	}
	return fmt.Sprintf("%d %s %s %s", change.Number, change.News, names.Last(change.Record), change.What)
}

// TestWatchRide tells what happens to a ride as it happens, and again from any change on.
func TestWatchRide(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	live := w.watchRide(w.as("ben"), ride.Name, nil)
	if got := next(t, live); got != "1 WATCH_BEGUN "+names.Last(ride.Name)+" " {
		t.Fatal(got)
	}
	other := w.ride("lea", sunday())
	for _, id := range []string{"lea", "ben", "ada", "bo"} {
		w.joins(id, ride.Name, nil)
		w.joins(id, other.Name, nil)
	}
	id := names.Last(ride.Name)
	want := []string{
		"2 SIGNUPS_CHANGED lea signed up", "3 SIGNUPS_CHANGED ben signed up", "4 SIGNUPS_CHANGED ada signed up", "5 SIGNUPS_CHANGED bo signed up",
	}
	w.publish("lea", ride.Name)
	want = append(want, "6 ROSTER_PUBLISHED 1 published a roster")
	if _, err := w.rides.UpdateRide(w.as("lea"), &pb.UpdateRideRequest{Ride: &pb.Ride{Name: ride.Name, MeetingPoint: "The station"},
		UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"meeting_point"}}}); err != nil {
		t.Fatal(told(err))
	}
	want = append(want, "7 RIDE_CHANGED "+id+" changed meeting_point")
	if _, err := w.rides.CallOffRide(w.as("lea"), &pb.CallOffRideRequest{Name: ride.Name, Reason: "ice"}); err != nil {
		t.Fatal(told(err))
	}
	want = append(want, "8 RIDE_CALLED_OFF "+id+" called the ride off")
	for _, one := range want {
		if got := next(t, live); got != one {
			t.Errorf("got %q, want %q", got, one)
		}
	}
	again := w.watchRide(w.as("bo"), ride.Name, proto.Int64(5))
	for _, one := range want[4:] {
		if got := next(t, again); got != one {
			t.Errorf("from 5 on: got %q, want %q", got, one)
		}
	}
	for _, bad := range []struct {
		name  string
		after *int64
		want  string
	}{
		{ride.Name, proto.Int64(9), "FIELD_INVALID | after: the ride has come to change 8 only"},
		{ride.Name, proto.Int64(-1), "FIELD_INVALID | after:"},
		{club + "/rides/none", nil, "NOT_FOUND"},
		{club, nil, "FIELD_INVALID | name:"},
		{"clubs/elsewhere/rides/1", nil, "NOT_ALLOWED"},
	} {
		if got := next(t, w.watchRide(w.as("ben"), bad.name, bad.after)); !strings.Contains(got, bad.want) {
			t.Errorf("%s after %v: %s, want %s", bad.name, bad.after, got, bad.want)
		}
	}
	if got := next(t, w.watchRide(w.ctx, ride.Name, nil)); !strings.Contains(got, "NOT_SIGNED_IN") {
		t.Error(got)
	}
}

// TestWatchTellsLittle: who watches is not told that a member is suspended, and a guest nothing of the sign-ups of others.
func TestWatchTellsLittle(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	w.accept(w.invite("lea", &pb.Invite{DisplayName: "Gus", ForRide: ride.Name}).Code)
	w.declare("gus", bike("winter bike", 300))
	for _, id := range []string{"lea", "gus", "ben"} {
		w.joins(id, ride.Name, nil)
	}
	if err := w.suspendAs("sec", "ben"); err != nil {
		t.Fatal(told(err))
	}
	for who, want := range map[string][]string{
		"bo":  {"2 SIGNUPS_CHANGED lea signed up", "3 SIGNUPS_CHANGED gus signed up", "4 SIGNUPS_CHANGED ben signed up", "5 SIGNUPS_CHANGED ben withdrew"},
		"gus": {"2 SIGNUPS_CHANGED  ", "3 SIGNUPS_CHANGED gus signed up", "4 SIGNUPS_CHANGED  ", "5 SIGNUPS_CHANGED  "},
	} {
		stream := w.watchRide(w.as(who), ride.Name, proto.Int64(1))
		for _, one := range want {
			if got := next(t, stream); got != one {
				t.Errorf("%s is told %q, want %q", who, got, one)
			}
		}
	}
}

// TestSuspendedInTheCarPark: past the planned start, until somebody sets off, a suspended member is still taken off the ride.
func TestSuspendedInTheCarPark(t *testing.T) {
	w, ride := closingWorld(t)
	w.setClock(onSunday(10, 40))
	suspend := func(id string) *pb.SuspendMemberResponse {
		answer, err := w.clubs.SuspendMember(w.as("sec"), &pb.SuspendMemberRequest{Name: club + "/members/" + id})
		if err != nil {
			t.Fatal(told(err))
		}
		return answer
	}
	if got := suspend("ben").Withdrawn; len(got) != 1 || got[0] != ride.Name+"/signups/ben" {
		t.Errorf("ten minutes past the start: withdrawn %v", got)
	}
	if err := w.mark("lea", ride.Name, "off", "ada", pb.Mark_SET_OFF, 10, 40); err != nil {
		t.Fatal(told(err))
	}
	if answer := suspend("ada"); len(answer.Withdrawn) != 0 {
		t.Errorf("under way: withdrawn %v", answer.Withdrawn)
	}
}

// TestWatchEnds: a member who is suspended hears nothing more, and a server that stops says so, in its health too.
func TestWatchEnds(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	ben, bo := w.watchRide(w.as("ben"), ride.Name, nil), w.watchRide(w.as("bo"), ride.Name, nil)
	next(t, ben)
	next(t, bo)
	if err := w.suspendAs("sec", "ben"); err != nil {
		t.Fatal(told(err))
	}
	w.joins("lea", ride.Name, nil)
	if got := next(t, ben); !strings.Contains(got, "you are suspended") {
		t.Error(got)
	}
	if got := next(t, bo); !strings.HasPrefix(got, "2 SIGNUPS_CHANGED") {
		t.Error(got)
	}
	health := grpc_health_v1.NewHealthClient(w.conn)
	w.stop()
	if got := next(t, bo); got != "Unavailable | UNAVAILABLE | the server is stopping; watch again from the last change that came" {
		t.Error(got)
	}
	w.until("health says that the server stops", func() bool {
		stands, err := health.Check(w.ctx, &grpc_health_v1.HealthCheckRequest{})
		return err == nil && stands.Status == grpc_health_v1.HealthCheckResponse_NOT_SERVING
	})
}

// until calls on until something holds, or the test's time is over.
func (w *world) until(what string, holds func() bool) {
	w.t.Helper()
	for !holds() {
		if w.ctx.Err() != nil {
			w.t.Fatalf("%s: not in time", what)
		}
	}
}

// TestWatchersMissNothing has four clients sign up and withdraw while four watch, lose their connection again and again,
// and go on from the last change that came: each sees every change once, in order.
func TestWatchersMissNothing(t *testing.T) {
	const rounds = 15
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	riders := []string{"lea", "ben", "ada", "bo"}
	last := int64(1 + len(riders)*rounds*2) // created, then each joins and withdraws
	var all sync.WaitGroup
	for _, id := range riders {
		all.Go(func() {
			for range rounds {
				if got := w.joins(id, ride.Name, nil); got != "in" {
					t.Error(got)
				}
				if got := w.withdraws(id, ride.Name); got != "no error" {
					t.Error(got)
				}
			}
		})
	}
	for seed, id := range riders {
		all.Go(func() {
			draw, seen := rand.New(rand.NewPCG(uint64(seed), 7)), int64(0)
			for seen < last {
				ctx, cut := context.WithCancel(w.as(id))
				stream, err := w.rides.WatchRide(ctx, &pb.WatchRideRequest{Name: ride.Name, After: &seen})
				for range 1 + draw.IntN(20) {
					var change *pb.RideChange
					if err == nil {
						change, err = stream.Recv()
					}
					if err != nil {
						t.Error(told(err))
						break
					}
					if seen++; change.Number != seen {
						t.Errorf("change %d came where %d was to come", change.Number, seen)
					}
					if seen == last {
						break
					}
				}
				cut()
				if t.Failed() {
					return
				}
			}
		})
	}
	all.Wait()
}

// TestWatchLeavesNothing: a watch whose client has gone ends on the server too.
func TestWatchLeavesNothing(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	for range 50 {
		ctx, cut := context.WithCancel(w.as("ben"))
		stream := w.watchRide(ctx, ride.Name, nil)
		next(t, stream)
		cut()
		if _, err := stream.Recv(); err == nil || err == io.EOF {
			t.Error("a watch that was cut goes on")
		}
	}
	w.until("the server counts 50 watches that ended", func() bool {
		return strings.Count(w.log.String(), "method=/gritward.v1.RideService/WatchRide code=Canceled") == 50
	})
}

// TestNewsOfRides: every method that changes a ride says what those who watch are told, or stands here.
func TestNewsOfRides(t *testing.T) {
	w := newWorld(t)
	for method, access := range server.AccessTable() {
		descriptor := w.descriptor(method)
		name := string(descriptor.Name())
		reads := strings.HasPrefix(name, "Get") || strings.HasPrefix(name, "List") || strings.HasPrefix(name, "Plan") || strings.HasPrefix(name, "Place") ||
			strings.HasPrefix(name, "Explain") || strings.HasPrefix(name, "Export") || strings.HasPrefix(name, "Watch") ||
			name == "ShareRoster" || name == "UnshareRoster" // who may look from outside changes nothing of the ride
		if !strings.HasPrefix(method, "/gritward.v1.RideService/") && !strings.HasPrefix(method, "/gritward.v1.RollCallService/") || access.Anyone {
			continue
		}
		news, _ := proto.GetExtension(descriptor.Options(), pb.E_News).(pb.RideNews)
		if (news == pb.RideNews_RIDE_NEWS_UNSPECIFIED) != reads {
			t.Errorf("%s: news %s; a method that changes a ride says what it tells (option (news)), one that reads does not", name, news)
		}
	}
}
