package server_test

import (
	"context"
	"fmt"
	"runtime"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// heapMiB is what is in use after everything that is not has been collected, in MiB.
func heapMiB() float64 {
	runtime.GC()
	runtime.GC() // what finalizers let go
	var stats runtime.MemStats
	runtime.ReadMemStats(&stats)
	return float64(stats.HeapAlloc) / (1 << 20)
}

// idleStreams is how many people watch a ride at once.
const idleStreams = 10_000

// TestIdleStreams has ten thousand watch a ride that nothing happens to: a call is still answered, a change reaches all of
// them, and when they go nothing of them stays.
func TestIdleStreams(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	many := idleStreams
	if testing.Short() { // the race detector runs this too
		many /= 20
	}
	before, memory := runtime.NumGoroutine(), heapMiB()
	ctx, stop := context.WithCancel(w.as("lea"))
	defer stop()
	var conns []*grpc.ClientConn
	var streams []grpc.ServerStreamingClient[pb.RideChange]
	for len(streams) < many {
		conn, err := grpc.NewClient(w.conn.Target(), grpc.WithTransportCredentials(insecure.NewCredentials()))
		if err != nil {
			t.Fatal(err)
		}
		conns = append(conns, conn)
		for range 60 { // a connection takes 64
			stream, err := pb.NewRideServiceClient(conn).WatchRide(ctx, &pb.WatchRideRequest{Name: ride.Name, After: new(int64)})
			if err != nil {
				t.Fatal(err)
			}
			streams = append(streams, stream)
		}
	}
	for _, stream := range streams { // each is told what was before, so each is under way
		if _, err := stream.Recv(); err != nil {
			t.Fatal(told(err))
		}
	}
	t.Logf("%d streams take %.0f MiB, client included", len(streams), heapMiB()-memory)
	if got := w.joins("ben", ride.Name, nil); got != "in" {
		t.Errorf("while all watch, a sign-up is answered with %s", got)
	}
	for _, stream := range streams {
		change, err := stream.Recv()
		if err != nil {
			t.Fatal(told(err))
		}
		if change.News != pb.RideNews_SIGNUPS_CHANGED {
			t.Fatalf("told of %v", change)
		}
	}
	stop()
	for _, conn := range conns {
		_ = conn.Close()
	}
	streams, conns = nil, nil
	w.until("nothing of the streams is left", func() bool { return runtime.NumGoroutine() < before+20 })
	w.until("their memory is free again", func() bool { return heapMiB() < memory+20 })
}

// TestNobodyReads has watchers that never read what they are told, while much happens: nobody waits for them, and what is
// kept for them is bounded.
func TestNobodyReads(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	ctx, stop := context.WithCancel(w.as("lea"))
	defer stop()
	for range 50 {
		if _, err := w.rides.WatchRide(ctx, &pb.WatchRideRequest{Name: ride.Name, After: new(int64)}); err != nil {
			t.Fatal(told(err))
		}
	}
	memory := heapMiB()
	for range 300 {
		if got := w.joins("ben", ride.Name, nil); got != "in" {
			t.Fatal(got)
		}
		if got := w.withdraws("ben", ride.Name); got != "no error" {
			t.Fatal(got)
		}
	}
	if grown := heapMiB() - memory; grown > 30 {
		t.Errorf("600 changes before 50 who do not read took %.0f MiB", grown)
	}
}

// TestWholeSunday plays the 24 hours of a Sunday in minutes of the clock: people look, sign up and withdraw, are marked, are
// overdue, are told; the watch over the roll call goes each minute. What is in memory does not grow with the hours.
func TestWholeSunday(t *testing.T) {
	w := newWorld(t)
	people(w)
	w.setClock(time.Date(2026, 12, 13, 0, 0, 0, 0, time.UTC))
	ride := w.ride("lea", sunday())
	for _, id := range rollRiders {
		if got := w.joins(id, ride.Name, nil); got != "in" {
			t.Fatal(got)
		}
	}
	var byHour []float64
	goroutines := 0
	marks := 0
	for minute := range 24 * 60 {
		w.setClock(time.Date(2026, 12, 13, 0, minute, 0, 0, time.UTC))
		if err := w.overdue.Look(w.ctx); err != nil {
			t.Fatal(err)
		}
		w.someMinute(t, ride.Name, minute, &marks)
		if minute%60 == 59 {
			byHour = append(byHour, heapMiB())
		}
		if minute == 4*60 {
			goroutines = runtime.NumGoroutine()
		}
	}
	t.Logf("MiB in use after each hour: %.1f", byHour)
	// By four in the morning all that is made once is made.
	if first, last := byHour[3], byHour[23]; last > first+8 {
		t.Errorf("%.1f MiB in use at four, %.1f at midnight", first, last)
	}
	if now := runtime.NumGoroutine(); now > goroutines+10 {
		t.Errorf("%d goroutines at four, %d at midnight", goroutines, now)
	}
}

// someMinute is what happens in a minute of a Sunday.
func (w *world) someMinute(t *testing.T, ride string, minute int, marks *int) {
	t.Helper()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(told(err))
		}
	}
	_, err := w.rides.GetRide(w.as("mia"), &pb.GetRideRequest{Name: ride})
	must(err)
	_, err = w.rides.ListSignups(w.as("mia"), &pb.ListSignupsRequest{Parent: ride})
	must(err)
	switch at := minute / 60; {
	case at < 9 && minute%10 == 0:
		if got := w.withdraws("bo", ride); got != "no error" {
			t.Fatal(got)
		}
		if got := w.joins("bo", ride, nil); got != "in" {
			t.Fatal(got)
		}
		_, err := w.rides.PlaceRide(w.as("lea"), &pb.PlaceRideRequest{Name: ride})
		must(err)
	case at >= 11 && at < 20 && minute%5 == 0:
		*marks++
		what := []pb.Mark_What{pb.Mark_SIGNED_ON, pb.Mark_IN_GROUP, pb.Mark_TURNED_BACK}[*marks%3]
		id := rollRiders[*marks%len(rollRiders)]
		_, err := w.rolls.RecordMarks(w.as("lea"), &pb.RecordMarksRequest{Parent: ride, Marks: []*pb.Mark{{
			Name: fmt.Sprintf("%s/marks/s%d", ride, *marks), Member: names.Member("fenwick", id), What: what}}})
		must(err)
	}
	_, err = w.rolls.GetRollCall(w.as("lea"), &pb.GetRollCallRequest{Name: ride})
	must(err)
}
