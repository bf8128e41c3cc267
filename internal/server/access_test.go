package server_test

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/dynamicpb"

	"gritward/internal/server"
	pb "gritward/proto/gritward/v1"
)

var update = flag.Bool("update", false, "write the golden files anew")

// TestAccess calls every method of every service as everybody, over the wire, and holds who was let in against a table
// that a person has read. Let in means: refused neither for want of a token nor for want of a role.
func TestAccess(t *testing.T) {
	w := newWorld(t)
	w.member("Mia", &pb.Member{PaceMinKmh: 20, PaceMaxKmh: 26})
	w.member("Max", nil)
	w.member("Lea", &pb.Member{MayLead: true, MayMarkBack: true}, pb.Role_LEADER)
	w.member("Lou", nil, pb.Role_LEADER)
	w.member("Sus", nil)
	w.suspend("sus")
	w.member("Gus", nil, pb.Role_GUEST)
	w.found("elsewhere", "Stranger")
	led := w.ride("lea", sunday())

	callers := []struct{ who, token, own, other string }{
		{"nobody", "", "mia", "mia"},
		{"stranger", "stranger", "mia", "mia"},
		{"suspended", "sus", "sus", "mia"},
		{"guest", "gus", "gus", "mia"},
		{"member", "mia", "mia", "max"},
		{"other leader", "lou", "lou", "max"},
		{"leader", "lea", "lea", "max"},
		{"secretary", "sec", "sec", "max"},
	}
	table := server.AccessTable()
	methods := make([]string, 0, len(table))
	for method := range table {
		methods = append(methods, method)
	}
	slices.Sort(methods)
	head, rule := "| method |", "| --- |"
	for _, caller := range callers {
		head, rule = head+" "+caller.who+" |", rule+" --- |"
	}
	lines := []string{head, rule}
	for _, method := range methods {
		line := "| `" + strings.TrimPrefix(method, "/gritward.v1.") + "` |"
		for _, caller := range callers {
			ctx := w.ctx
			if caller.token != "" {
				ctx = w.as(caller.token)
			}
			own := w.letIn(ctx, method, table[method], led.Name, caller.own)
			other := w.letIn(ctx, method, table[method], led.Name, caller.other)
			line += " " + word(own, other) + " |"
		}
		lines = append(lines, line)
	}
	between(t, "../../DEVELOPERS.md", "<!-- access: written by go test ./internal/server -run TestAccess -update -->\n",
		"<!-- end of access -->\n", strings.Join(lines, "\n")+"\n")
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

// letIn calls a method about a member's record, or about the ride, and says whether the caller was let in.
func (w *world) letIn(ctx context.Context, method string, access *pb.Access, ride, member string) bool {
	w.t.Helper()
	request := w.request(method)
	if path := access.GetRecord(); path != "" {
		set(request, path, recordFor(method, path, ride, member))
	}
	response := w.response(method)
	err := w.first(ctx, method, request, response)
	code := status.Code(err)
	return code != codes.Unauthenticated && code != codes.PermissionDenied
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

// recordFor is the name of a record that the method is about: of the member, or of the ride. They need not be there.
func recordFor(method, path, ride, member string) string {
	name := method[strings.LastIndex(method, "/")+1:]
	members := club + "/members/" + member
	switch name {
	case "GetClub", "ListMembers", "CreateInvite", "ListInvites", "CheckPolicy", "AdoptPolicy", "PreviewPolicy", "ListPolicies", "CreateRide", "ListRides", "ListAudit",
		"ListRecordedTimes", "ListIncidents", "GetSeasonReport":
		return club
	case "GetPolicy", "ComparePolicies", "RestorePolicy":
		return club + "/policies/1"
	case "WithdrawInvite":
		return club + "/invites/none"
	case "GetMember", "EraseMember", "UpdateMember", "SuspendMember", "ReinstateMember", "ListDevices", "DeclareBike", "ListBikes", "ListDue", "JoinRide",
		"ListContactReadings", "ExportMember", "ListNotices":
		return members
	case "SetEmergencyContacts", "GetEmergencyContacts":
		return members + "/contacts"
	case "RevokeDevice":
		return members + "/devices/none"
	case "GetBike", "ListDeclarations", "RetireBike", "AssessBike", "RecordCare", "ListCare", "LiftBike":
		return members + "/bikes/none"
	case "WithdrawSignup", "ExplainPlace":
		return ride + "/signups/" + member
	case "AmendIncident", "ReadIncident", "MarkReported":
		return ride + "/incidents/1"
	case "GetRoster":
		return ride + "/rosters/1"
	case "GetRide", "UpdateRide", "CallOffRide", "PlanRide", "GetRoute", "ExportRoute", "WatchRide", "ListLetters", "ListSignups", "PlaceRide", "PublishRoster", "ListRosters", "RecordMarks",
		"ReadForecast", "DropForecast", "PinRider", "UnpinRider", "PinGroup", "UnpinGroup",
		"CloseRide", "ReopenRide", "ReadRideContacts", "CloseGroup", "GetRollCall", "ListMarks", "GetLateStart", "PutBackStart", "RecordIncident":
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
	data, err := os.ReadFile(w.path)
	if err != nil {
		t.Fatal(err)
	}
	if secret := good[strings.Index(good, ".")+1:]; strings.Contains(string(data), secret) || strings.Contains(w.log.String(), secret) {
		t.Error("the token stands in the store or in the log")
	}
}
