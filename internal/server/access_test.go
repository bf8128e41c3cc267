package server_test

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/dynamicpb"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"gritward/internal/server"
	pb "gritward/proto/gritward/v1"
)

var update = flag.Bool("update", false, "write the golden files anew")

// place is a club with records of everybody, for calls about them that change nothing.
type place struct {
	*world
	ride, roster, invite string
	devices              map[string]string
}

// visitor is somebody who calls, with an own record and another's to call about, and words that may never come back.
type visitor struct {
	who, token, own, other string
	never                  []string
}

// accessPlace makes a club in which everybody has a bike, a device and a sign-up; of a ride that Lea leads and Gus is a guest
// of, and of one that Lou leads and Gil is a guest of.
func accessPlace(t testing.TB) (*place, []visitor) {
	w := newWorldFor(t)
	people := []string{"mia", "max", "lea", "lou", "sus", "ben", "bo", "pia"}
	w.member("Mia", &pb.Member{PaceMinKmh: 20, PaceMaxKmh: 26})
	w.member("Max", nil)
	w.member("Lea", &pb.Member{MayLead: true, MayMarkBack: true}, pb.Role_LEADER)
	w.member("Lou", nil, pb.Role_LEADER)
	w.member("Sus", nil)
	w.member("Ben", &pb.Member{MayMarkBack: true, MayLead: true})
	w.member("Bo", &pb.Member{MayMarkBack: true, MayLead: true})
	w.member("Pia Solo", nil) // rides nowhere
	w.found("elsewhere", "Stranger")
	here, apart := sunday(), sunday()
	here.Title, apart.Title = "Led by Lea", "Apart"
	led := w.ride("lea", here)
	other := w.ride("lou", apart)
	for guest, ride := range map[string]*pb.Ride{"Gus": led, "Gil": other} {
		host := ride.Leader[strings.LastIndex(ride.Leader, "/")+1:]
		w.accept(w.invite(host, &pb.Invite{DisplayName: guest, ForRide: ride.Name}).Code)
	}
	p := &place{world: w, ride: led.Name, devices: map[string]string{}}
	for _, id := range append(people[:7:7], "sec", "gus", "gil") {
		facts := bike("winter bike", 300)
		facts.Note = "secret of " + id
		facts.Chain = nil // a finding to be told
		at := led.Name
		if id == "gil" || id == "lou" {
			at = other.Name
		}
		if _, err := w.join(id, at, w.declare(id, facts), nil); err != nil {
			t.Fatal(told(err))
		}
		listed, err := w.clubs.ListDevices(w.as(id), &pb.ListDevicesRequest{Parent: club + "/members/" + id})
		if err != nil || len(listed.Devices) != 1 {
			t.Fatal(told(err))
		}
		p.devices[id] = listed.Devices[0].Name
	}
	if err := w.giveContacts("gus", map[string]string{"contact": "Runa Quill", "phone": "07700 900124"}); err != nil {
		t.Fatal(told(err))
	}
	max := &pb.Member{Name: club + "/members/max", Email: "max@marrowdale.example"}
	if _, err := w.clubs.UpdateMember(w.as("max"), &pb.UpdateMemberRequest{Member: max, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"email"}}}); err != nil {
		t.Fatal(told(err))
	}
	issue, err := w.rides.PublishRoster(w.as("lea"), &pb.PublishRosterRequest{Parent: led.Name})
	if err != nil {
		t.Fatal(told(err))
	}
	p.roster = issue.Name
	p.invite = w.invite("sec", &pb.Invite{DisplayName: "Somebody"}).Name
	w.suspend("sus")
	all := []string{"FENWICK", "Four Becks", "Led by", "Apart", "secret of", "Mia", "\"Max", "max@", "Pia", "Sec"}
	others := []string{"max@", "secret of max", "secret of gil"}
	return p, []visitor{
		{"nobody", "", "mia", "mia", all},
		{"stranger", "stranger", "mia", "mia", all},
		{"suspended", "sus", "sus", "mia", all},
		{"guest", "gus", "gus", "mia", []string{"max@", "secret of m", "secret of gil", "Apart", "Pia", "Lou", "Gil"}},
		{"guest of another ride", "gil", "gil", "mia", []string{"max@", "secret of m", "secret of gus", "Led by", "Pia", "members/max", "Mia"}},
		{"member", "mia", "mia", "max", others},
		{"other leader", "lou", "lou", "max", []string{"max@"}},
		{"leader", "lea", "lea", "max", []string{"max@"}},
		{"host about the guest", "lea", "lea", "gus", []string{"max@", "Runa"}},
		{"secretary", "sec", "sec", "max", nil},
	}
}

// TestAccess calls every method of every service as everybody, over the wire, about records that are there, and holds who was
// let in against a table that a person has read. Let in means: refused neither for want of a token nor for want of a role.
// Whoever is not let in hears the same about a record that is not there; and nobody hears what is not theirs.
func TestAccess(t *testing.T) {
	p, visitors := accessPlace(t)
	p.held.on.Store(true)
	table := server.AccessTable()
	methods := slices.Sorted(maps.Keys(table))
	head, rule := "| method |", "| --- |"
	for _, one := range visitors {
		head, rule = head+" "+one.who+" |", rule+" --- |"
	}
	lines := []string{head, rule}
	for _, method := range methods {
		line := "| `" + strings.TrimPrefix(method, "/gritward.v1.") + "` |"
		for _, one := range visitors {
			line += " " + word(p.letIn(method, table[method], one, one.own), p.letIn(method, table[method], one, one.other)) + " |"
		}
		lines = append(lines, line)
	}
	between(t, "../../DEVELOPERS.md", "<!-- access: written by go test ./internal/server -run TestAccess -update -->\n",
		"<!-- end of access -->\n", strings.Join(lines, "\n")+"\n")
}

// letIn calls a method about a member's record, or about the ride, and says whether the caller was let in.
func (p *place) letIn(method string, access *pb.Access, by visitor, member string) bool {
	p.t.Helper()
	there := p.call(method, access, by, member, p.ride)
	code := status.Code(there)
	if code != codes.Unauthenticated && code != codes.PermissionDenied {
		return true
	}
	const missing = "nix"
	absent := p.call(method, access, by, missing, p.ride)
	if said := strings.ReplaceAll(told(absent), missing, member); said != told(there) && (member != by.own || by.token == "") {
		p.t.Errorf("%s as %s tells whether %s is there: %q, %q", method, by.who, member, told(there), told(absent))
	}
	if knowsRides := slices.Contains([]string{"member", "other leader", "leader", "host about the guest", "secretary"}, by.who); !knowsRides {
		if absent := p.call(method, access, by, member, club+"/rides/nix"); status.Code(absent) != code {
			p.t.Errorf("%s as %s tells whether a ride is there: %q, %q", method, by.who, told(there), told(absent))
		}
	}
	return false
}

// call calls a method with next to nothing in the request but its records, and looks at what comes back.
func (p *place) call(method string, access *pb.Access, by visitor, member, ride string) error {
	p.t.Helper()
	ctx := p.ctx
	if by.token != "" {
		ctx = p.as(by.token)
	}
	request, response := p.request(method), p.response(method)
	if path := access.GetRecord(); path != "" {
		set(request, path, p.recordFor(method, path, ride, member))
	}
	if path := access.GetRide(); path != "" {
		set(request, path, ride)
	}
	err := p.first(ctx, method, request, response)
	data, marshalErr := protojson.Marshal(response)
	if marshalErr != nil {
		p.t.Fatal(marshalErr)
	}
	said := string(data)
	if err != nil {
		said += told(err)
	}
	if method == "/gritward.v1.ClubService/WhoAmI" && by.token == "stranger" {
		return err // is about the stranger
	}
	for _, never := range by.never {
		if strings.Contains(said, never) {
			p.t.Errorf("%s as %s about %s tells %q: %.300s", method, by.who, member, never, said)
		}
	}
	return err
}

func word(own, other bool) string {
	switch {
	case own && other:
		return "yes"
	case own:
		return "own"
	case other:
		return "OTHERS-BUT-NOT-OWN"
	}
	return "–"
}

// between holds what stands between two marks of a file against a text.
func between(t *testing.T, path, begin, end, got string) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	before, rest, begun := strings.Cut(string(data), begin)
	stands, after, ended := strings.Cut(rest, end)
	if !begun || !ended {
		t.Fatalf("%s has not the marks %q and %q", path, begin, end)
	}
	if *update {
		if err := os.WriteFile(path, []byte(before+begin+got+end+after), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if stands != got {
		t.Errorf("%s differs; if the change is meant, run go test ./internal/server -run TestAccess -update and read the difference\ngot:\n%s\nwant:\n%s", path, got, stands)
	}
}

// first makes a call, and reads its answer, or the first message of one in many.
func (w *world) first(ctx context.Context, method string, request, response proto.Message) error {
	if !w.descriptor(method).IsStreamingServer() {
		return w.conn.Invoke(ctx, method, request, response)
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	stream, err := w.conn.NewStream(ctx, &grpc.StreamDesc{ServerStreams: true}, method)
	if err != nil {
		return err
	}
	if err := errors.Join(stream.SendMsg(request), stream.CloseSend()); err != nil {
		return err
	}
	return stream.RecvMsg(response)
}

// recordFor is the name of a record that the method is about: of the member, or of the ride. They are there, for everybody in
// the story of accessPlace.
func (p *place) recordFor(method, path, ride, member string) string {
	name := method[strings.LastIndex(method, "/")+1:]
	members := club + "/members/" + member
	switch name {
	case "GetClub", "ListMembers", "CreateInvite", "ListInvites", "CheckPolicy", "AdoptPolicy", "PreviewPolicy", "ListPolicies", "CreateRide", "ListRides", "ListAudit",
		"ListRecordedTimes", "ListIncidents", "GetSeasonReport":
		return club
	case "GetPolicy", "ComparePolicies", "RestorePolicy":
		return club + "/policies/1"
	case "WithdrawInvite":
		return p.invite
	case "GetMember", "EraseMember", "UpdateMember", "SuspendMember", "ReinstateMember", "ListDevices", "DeclareBike", "ListBikes", "ListDue", "JoinRide",
		"ListContactReadings", "ExportMember", "ListNotices", "TryFacts", "InviteDevice":
		return members
	case "SetEmergencyContacts", "GetEmergencyContacts":
		return members + "/contacts"
	case "RevokeDevice":
		if device := p.devices[member]; device != "" {
			return device
		}
		return members + "/devices/none"
	case "GetBike", "ListDeclarations", "RetireBike", "AssessBike", "RecordCare", "ListCare", "LiftBike":
		return members + "/bikes/bike-1"
	case "WithdrawSignup", "ExplainPlace", "GetSignup":
		return ride + "/signups/" + member
	case "AmendIncident", "ReadIncident", "MarkReported":
		return ride + "/incidents/1"
	case "GetRoster":
		return ride + "/rosters/1"
	case "GetRide", "UpdateRide", "CallOffRide", "PlanRide", "GetRoute", "ExportRoute", "WatchRide", "ListLetters", "ListSignups", "PlaceRide", "PublishRoster", "ListRosters", "RecordMarks",
		"ReadForecast", "DropForecast", "PinRider", "UnpinRider", "PinGroup", "UnpinGroup",
		"ShareRoster", "UnshareRoster", "GetRosterShare", "CloseRide", "ReopenRide", "ReadRideContacts", "CloseGroup", "GetRollCall", "ListMarks", "AddGuest", "GetLateStart", "PutBackStart", "RecordLookOver", "RecordIncident":
		return ride
	}
	panic(fmt.Sprintf("%s is new: say here which record it is about, and read its line of the table (field %s)", method, path))
}

// descriptor finds a method by its full name "/service/method".
func (w *world) descriptor(method string) protoreflect.MethodDescriptor {
	service, name, _ := strings.Cut(strings.TrimPrefix(method, "/"), "/")
	found, err := protoregistry.GlobalFiles.FindDescriptorByName(protoreflect.FullName(service))
	if err != nil {
		w.t.Fatal(err)
	}
	return found.(protoreflect.ServiceDescriptor).Methods().ByName(protoreflect.Name(name))
}

func (w *world) request(method string) proto.Message {
	return dynamicpb.NewMessage(w.descriptor(method).Input())
}

func (w *world) response(method string) proto.Message {
	return dynamicpb.NewMessage(w.descriptor(method).Output())
}

// set writes a string field by its path.
func set(message proto.Message, path, value string) {
	at := message.ProtoReflect()
	parts := strings.Split(path, ".")
	for _, part := range parts[:len(parts)-1] {
		at = at.Mutable(at.Descriptor().Fields().ByName(protoreflect.Name(part))).Message()
	}
	at.Set(at.Descriptor().Fields().ByName(protoreflect.Name(parts[len(parts)-1])), protoreflect.ValueOfString(value))
}

// suspend has the secretary suspend a member.
func (w *world) suspend(id string) {
	w.t.Helper()
	if err := w.suspendAs("sec", id); err != nil {
		w.t.Fatal(told(err))
	}
}

// TestEveryMethodSaysWhoMayCall fails the build for a method without a row in the table.
func TestEveryMethodSaysWhoMayCall(t *testing.T) {
	for method, access := range server.AccessTable() {
		if access == nil || !access.Anyone && len(access.Any) == 0 && len(access.Own) == 0 && !access.RideLeaders {
			t.Errorf("%s: nobody may call it; give it an access option in the protocol", method)
		}
		if len(access.GetOwn()) > 0 && access.GetRecord() == "" {
			t.Errorf("%s: is for own records, but says not which field names the record", method)
		}
	}
}

// TestTokens tries every kind of token that is not good.
func TestTokens(t *testing.T) {
	w := newWorld(t)
	good := w.tokens["sec"]
	for name, header := range map[string][]string{
		"empty":           {""},
		"not bearer":      {"Basic " + good},
		"no dot":          {"Bearer fenwick"},
		"cut short":       {"Bearer " + good[:len(good)-1]},
		"longer":          {"Bearer " + good + "A"},
		"other club":      {"Bearer elsewhere" + strings.TrimPrefix(good, "fenwick")},
		"upper case club": {"Bearer FENWICK" + strings.TrimPrefix(good, "fenwick")},
		"path":            {"Bearer ../fenwick." + good},
		"huge":            {"Bearer fenwick." + strings.Repeat("A", 4000)},
		"two":             {"Bearer " + good, "Bearer " + good},
	} {
		t.Run(name, func(t *testing.T) {
			ctx := w.ctx
			for _, value := range header {
				ctx = metadata.AppendToOutgoingContext(ctx, "authorization", value)
			}
			_, err := w.clubs.WhoAmI(ctx, &pb.WhoAmIRequest{})
			if status.Code(err) != codes.Unauthenticated {
				t.Errorf("let in: %v", told(err))
			}
		})
	}
	if _, err := w.clubs.WhoAmI(w.as("sec"), &pb.WhoAmIRequest{}); err != nil {
		t.Errorf("the good token is refused: %v", err)
	}
	data := w.bytesKept()
	if secret := good[strings.Index(good, ".")+1:]; strings.Contains(string(data), secret) || strings.Contains(w.log.String(), secret) {
		t.Error("the token stands in the store or in the log")
	}
}
