package server_test

import (
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	pb "gritward/proto/gritward/v1"
)

// closingWorld is a world with a ride of Sunday that ben and ada have joined.
func closingWorld(t *testing.T) (*world, *pb.Ride) {
	t.Helper()
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	for _, id := range []string{"ben", "ada"} {
		if _, err := w.join(id, ride.Name, club+"/members/"+id+"/bikes/bike-1", nil); err != nil {
			t.Fatal(told(err))
		}
	}
	return w, ride
}

// mark sends one mark of a member as a leader, made at an hour and a minute of Sunday; id is also what the mark is called.
func (w *world) mark(as, ride, id, member string, what pb.Mark_What, hour, minute int) error {
	_, err := w.rolls.RecordMarks(w.as(as), &pb.RecordMarksRequest{Parent: ride, Marks: []*pb.Mark{{
		Name: ride + "/marks/" + id, Member: club + "/members/" + member, What: what,
		At: timestamppb.New(time.Date(2026, 12, 13, hour, minute, 0, 0, time.UTC))}}})
	return err
}

// TestCloseRide: a ride closes when everybody is accounted for and not before; a secretary closes with a reason all the
// same; what is closed can be opened again.
func TestCloseRide(t *testing.T) {
	w, ride := closingWorld(t)
	shut := func(as, reason string) string {
		_, err := w.rolls.CloseRide(w.as(as), &pb.CloseRideRequest{Name: ride.Name, Reason: reason})
		return told(err)
	}
	if got := shut("lea", ""); got != "FailedPrecondition | WRONG_STATE | the ride has not started yet; it does at 2026-12-13T10:30" {
		t.Errorf("before the start: %s", got)
	}
	w.setClock(time.Date(2026, 12, 13, 17, 0, 0, 0, time.UTC))
	for _, id := range []string{"s", "x"} {
		if err := w.mark("lea", ride.Name, id, "ben", pb.Mark_SIGNED_ON, 10, 20); err != nil {
			t.Fatal(told(err))
		}
	}
	want := "FailedPrecondition | WRONG_STATE | clubs/fenwick/members/ada: Ada is not seen yet | clubs/fenwick/members/ben: Ben is signed on | not everybody is accounted for"
	for _, as := range []string{"lea", "sec"} {
		if got := shut(as, ""); !strings.HasPrefix(got, want) {
			t.Errorf("%s: %s", as, got)
		}
	}
	if got := shut("lea", "they are in the pub"); !strings.HasPrefix(got, want) {
		t.Errorf("a leader with a reason: %s", got)
	}
	if got := shut("sec", "they are in the pub"); got != "no error" {
		t.Fatal(got)
	}
	closed, err := w.rides.GetRide(w.as("ada"), &pb.GetRideRequest{Name: ride.Name})
	if err != nil || closed.State != pb.Ride_CLOSED || !closed.ClosedAt.AsTime().Equal(w.clock()) {
		t.Errorf("%v, %s", closed, told(err))
	}
	if got := shut("sec", "again"); got != "FailedPrecondition | WRONG_STATE | the ride is closed already" {
		t.Errorf("%s", got)
	}
	again := func() string {
		opened, err := w.rolls.ReopenRide(w.as("lea"), &pb.ReopenRideRequest{Name: ride.Name, Reason: "Ada rang: she is out still"})
		if err == nil && (opened.State != pb.Ride_OPEN || opened.ClosedAt != nil) {
			t.Errorf("%v", opened)
		}
		return told(err)
	}
	if got := again(); got != "no error" {
		t.Error(got)
	}
	if got := again(); got != "FailedPrecondition | WRONG_STATE | neither the ride nor a group of it is closed" {
		t.Error(got)
	}
	if err := w.mark("lea", ride.Name, "h", "ben", pb.Mark_HOME, 15, 0); err != nil {
		t.Error(told(err))
	}
	if err := w.mark("lea", ride.Name, "n", "ada", pb.Mark_HANDED_OVER, 15, 0); err != nil {
		t.Error(told(err))
	}
	if got := shut("lea", ""); got != "no error" {
		t.Errorf("all home: %s", got)
	}
}
