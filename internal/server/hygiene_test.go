package server_test

import (
	"bytes"
	"context"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/ledger"
	"gritward/internal/server"
	pb "gritward/proto/gritward/v1"
)

// TestUnknownFieldsAreDropped sends what the protocol does not know along with a bike: none of it is stored.
func TestUnknownFieldsAreDropped(t *testing.T) {
	w := newWorld(t)
	people(w)
	facts := bike("blue bike", 300)
	junk := append([]byte{0xFA, 0xFF, 0x01, 0x80, 0x80, 0x04}, bytes.Repeat([]byte("junk"), 16384)...) // field 4095, 64 KiB
	facts.ProtoReflect().SetUnknown(junk)
	facts.Guards.Rear.ProtoReflect().SetUnknown(junk)
	name := w.declare("ben", facts)
	read, err := w.bikes.GetBike(w.as("ben"), &pb.GetBikeRequest{Name: name})
	if err != nil || proto.Size(read) > 4096 {
		t.Errorf("the bike has %d bytes: %v", proto.Size(read), told(err))
	}
}

// TestSteeringText refuses text that would steer a terminal or turn the direction of writing.
func TestSteeringText(t *testing.T) {
	w := newWorld(t)
	people(w)
	for _, title := range []string{"bike\x1b[2J", "bike\u202egpj", "bike\r\nBcc: x", "bike\x00"} {
		_, err := w.bikes.DeclareBike(w.as("ben"), &pb.DeclareBikeRequest{Parent: club + "/members/ben", Facts: bike(title, 60)})
		if got := told(err); !strings.HasPrefix(got, "InvalidArgument | FIELD_INVALID | facts.title: holds the character U+") {
			t.Errorf("%q: %s", title, got)
		}
	}
}

// TestMaskNamedOften refuses a mask that names fields over and over, which would fill the audit log.
func TestMaskNamedOften(t *testing.T) {
	w := newWorld(t)
	people(w)
	paths := strings.Split(strings.Repeat("display_name ", 1000), " ")[:1000]
	_, err := w.clubs.UpdateMember(w.as("ben"), &pb.UpdateMemberRequest{
		Member:     &pb.Member{Name: club + "/members/ben", DisplayName: "Ben"},
		UpdateMask: &fieldmaskpb.FieldMask{Paths: paths}})
	if got := told(err); !strings.HasPrefix(got, "InvalidArgument | FIELD_INVALID | update_mask: names 1000 fields") {
		t.Error(got)
	}
}

// TestTurnedRoute rides the same loop the other way round: its measures are equal, the ride is not.
func TestTurnedRoute(t *testing.T) {
	w := newWorld(t)
	people(w)
	asked := sunday()
	asked.Conditions.Start.WindKmh, asked.Conditions.Start.WindFromDeg = proto.Float64(50), proto.Float64(0)
	asked.Stops = nil
	line := func(points ...string) []byte {
		var b strings.Builder
		b.WriteString(`<gpx version="1.1"><trk><trkseg>`)
		for _, point := range points {
			b.WriteString(`<trkpt lat="` + point + `" lon="-2.2"><ele>100</ele></trkpt>`)
		}
		b.WriteString(`</trkseg></trk></gpx>`)
		return []byte(b.String())
	}
	made, err := w.rides.CreateRide(w.as("lea"), &pb.CreateRideRequest{Parent: club, Ride: asked, RouteGpx: line("54.0", "54.1", "54.2")})
	if err != nil {
		t.Fatal(told(err))
	}
	home := func() time.Time {
		plan, err := w.rides.PlanRide(w.as("lea"), &pb.PlanRideRequest{Name: made.Name})
		if err != nil {
			t.Fatal(told(err))
		}
		return plan.Groups[0].HomeAt.AsTime()
	}
	against := home()
	changed, err := w.rides.UpdateRide(w.as("lea"), &pb.UpdateRideRequest{
		Ride: &pb.Ride{Name: made.Name}, RouteGpx: line("54.2", "54.1", "54.0")})
	if err != nil {
		t.Fatal(told(err))
	}
	if with := home(); !with.Before(against) || changed.Etag == made.Etag {
		t.Errorf("home at %s against the wind, at %s with it", against, with)
	}
}

// TestBarred places no bike that was retired after signing up.
func TestBarred(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	for _, id := range []string{"lea", "ben", "ada", "bo"} {
		if _, err := w.join(id, ride.Name, club+"/members/"+id+"/bikes/bike-1", nil); err != nil {
			t.Fatal(told(err))
		}
	}
	if _, err := w.bikes.RetireBike(w.as("bo"), &pb.RetireBikeRequest{Name: club + "/members/bo/bikes/bike-1"}); err != nil {
		t.Fatal(told(err))
	}
	placed, err := w.rides.PlaceRide(w.as("lea"), &pb.PlaceRideRequest{Name: ride.Name})
	if err != nil {
		t.Fatal(told(err))
	}
	why := map[string]string{}
	for _, one := range placed.Unplaced {
		why[one.DisplayName] = strings.Join(one.Why, " ")
	}
	if why["Bo"] != "The bike is retired: sign up with another." {
		t.Errorf("%v", why)
	}
}

// TestCareSentTwice repeats an entry with its request id: it stands once.
func TestCareSentTwice(t *testing.T) {
	w := newWorld(t)
	people(w)
	request := &pb.RecordCareRequest{Parent: club + "/members/ben/bikes/bike-1", RequestId: "c1",
		Entry: &pb.CareEntry{Work: pb.CareEntry_WASHED, DoneOn: "2026-12-10"}}
	first, err := w.bikes.RecordCare(w.as("ben"), request)
	if err != nil {
		t.Fatal(told(err))
	}
	second, err := w.bikes.RecordCare(w.as("ben"), request)
	if err != nil || !proto.Equal(first, second) {
		t.Errorf("%v and %v: %v", first, second, told(err))
	}
}

// TestMarkNames gives a mark the name of another: it is refused, not lost.
func TestMarkNames(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	if _, err := w.join("ben", ride.Name, club+"/members/ben/bikes/bike-1", nil); err != nil {
		t.Fatal(told(err))
	}
	mark := func(what pb.Mark_What) error {
		_, err := w.rolls.RecordMarks(w.as("lea"), &pb.RecordMarksRequest{Parent: ride.Name, Marks: []*pb.Mark{{
			Name: ride.Name + "/marks/m1", Member: club + "/members/ben", What: what}}})
		return err
	}
	if got := told(mark(pb.Mark_HOME)); !strings.Contains(got, "marks[0].what: nobody is home before the ride has started") {
		t.Error(got)
	}
	if err := mark(pb.Mark_SIGNED_ON); err != nil {
		t.Error(told(err))
	}
	want := "AlreadyExists | ALREADY_EXISTS | " + ride.Name + "/marks/m1 is another mark; give this one a name of its own"
	if got := told(mark(pb.Mark_LOOKED_OVER)); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

// TestEnteredAt is the server's to say.
func TestEnteredAt(t *testing.T) {
	w := newWorld(t)
	people(w)
	asked := sunday()
	asked.Conditions.EnteredAt = timestamppb.New(friday.AddDate(-20, 0, 0))
	if got := w.ride("lea", asked).Conditions.EnteredAt.AsTime(); !got.Equal(friday) {
		t.Errorf("entered at %s", got)
	}
}

// TestGateIsClosed holds the server's services against the table: one that is not in it would be refused, and there is
// none but those of the protocol, health and reflection.
func TestGateIsClosed(t *testing.T) {
	answering, err := server.New(server.Config{Ledger: ledger.New(nil, time.Now)})
	if err != nil {
		t.Fatal(err)
	}
	table := server.AccessTable()
	for service, info := range answering.GetServiceInfo() {
		for _, method := range info.Methods {
			name := "/" + service + "/" + method.Name
			if _, listed := table[name]; !listed && !strings.HasPrefix(service, "grpc.health.v1.") && !strings.HasPrefix(service, "grpc.reflection.") {
				t.Errorf("%s is served and not in the table", name)
			}
		}
	}
}

// TestStrangersSendNothing refuses a call without a good token before its message is read: a large one is not taken in.
func TestStrangersSendNothing(t *testing.T) {
	w := newWorld(t)
	ctx := metadata.AppendToOutgoingContext(w.ctx, "authorization", "Bearer fenwick.nonsense")
	for _, who := range []context.Context{w.ctx, ctx} {
		_, err := w.rides.CreateRide(who, &pb.CreateRideRequest{Parent: club, Ride: sunday(), RouteGpx: make([]byte, 16<<20)}, grpc.MaxCallSendMsgSize(32<<20))
		if status.Code(err) != codes.Unauthenticated {
			t.Errorf("%v", told(err))
		}
	}
	if strings.Contains(w.log.String(), "CreateRide") {
		t.Error("the message was read")
	}
	if size := len(w.bytesKept()); size > 8<<20 {
		t.Errorf("the store has grown to %d bytes", size)
	}
}

// TestRouteOf makes a ride on the route of an earlier one: the same line to the metre.
func TestRouteOf(t *testing.T) {
	w := newWorld(t)
	people(w)
	first := w.ride("lea", sunday())
	again, err := w.rides.CreateRide(w.as("lea"), &pb.CreateRideRequest{Parent: club, Ride: sunday(), RouteOf: first.Name})
	if err != nil {
		t.Fatal(err)
	}
	if again.Name == first.Name || again.Route.GetDigest() == "" || !proto.Equal(again.Route, first.Route) {
		t.Errorf("%s has the route %v, want %v", again.Name, again.Route, first.Route)
	}
	line, err := w.rides.GetRoute(w.as("lea"), &pb.GetRouteRequest{Name: again.Name})
	if err != nil || len(line.LatDeg) < 2 {
		t.Errorf("%d points, %v", len(line.GetLatDeg()), err)
	}
}
