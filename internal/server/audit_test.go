package server_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"gritward/internal/ledger"
	"gritward/internal/server"
	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

// readers begin the names of methods that change nothing. Every other method is a writing one.
var readers = []string{"Get", "List", "WhoAmI", "Check", "Compare", "Preview", "Assess", "Lift", "Try", "Plan", "Place", "Explain", "ExportRoute", "Watch", "ReadShared"}

func reads(method string) bool {
	name := method[strings.LastIndex(method, "/")+1:]
	return slices.ContainsFunc(readers, func(begins string) bool { return strings.HasPrefix(name, begins) })
}

// auditLog reads the whole audit log of the club, oldest entry first.
func (w *world) auditLog() (entries []*pb.AuditEntry) {
	w.t.Helper()
	err := w.ledger.View(w.ctx, "fenwick", func(tx *ledger.Tx) error {
		return tx.AuditDown(0, 0, func(entry *pb.AuditEntry) error {
			entries = append(entries, entry)
			return nil
		})
	})
	if err != nil {
		w.t.Fatal(err)
	}
	slices.Reverse(entries)
	return entries
}

// deed is one call of a writing method by a member.
type deed struct {
	method, who string
	do          func() error
}

// TestEveryWritingMethodLeavesOneEntry does everything that can be done in a club: each deed leaves one entry, which
// says who, from which device and by which method, and nothing in the log is a secret or what people wrote.
func TestEveryWritingMethodLeavesOneEntry(t *testing.T) {
	w := newWorld(t)
	people(w)
	secrets := map[string]string{"e-mail": "bo@marrowdale.example", "reason": "gale over the moor", "note": "hidden note",
		"title of a bike": "teal tourer", "title of a device": "kitchen tablet", "care note": "squeaks downhill", "why": "knows the way",
		"contact": "Runa Quill", "phone": "07700 900123", "medical note": "allergic to bees",
		"account": "slid on the grid", "photograph": "grid-of-ben.jpg"}
	deeds := append(memberDeeds(w, secrets), rideDeeds(w, secrets)...)
	done := map[string]bool{}
	for _, deed := range deeds {
		before := len(w.auditLog())
		if err := deed.do(); err != nil {
			t.Fatalf("%s: %s", deed.method, told(err))
		}
		left := w.auditLog()[before:]
		if len(left) != 1 {
			t.Errorf("%s left %d entries: %v", deed.method, len(left), left)
			continue
		}
		by := club + "/members/" + deed.who
		if got := left[0]; got.Method != "gritward.v1."+deed.method || got.Actor != by || !strings.HasPrefix(got.Device, by+"/devices/") ||
			!strings.HasPrefix(got.Resource, club) || got.What == "" || !got.At.AsTime().Equal(w.clock()) {
			t.Errorf("%s by %s left %v", deed.method, deed.who, got)
		}
		done["/gritward.v1."+deed.method] = true
	}
	for method := range server.AccessTable() {
		if !reads(method) && !done[method] {
			t.Errorf("%s is new: show here that it leaves one entry; or, when it changes nothing, say so in readers", method)
		}
	}
	for id, token := range w.tokens {
		sum := sha256.Sum256([]byte(token))
		secrets["token of "+id], secrets["hash of the token of "+id] = token[strings.Index(token, ".")+1:], hex.EncodeToString(sum[:])
	}
	for _, entry := range w.auditLog() {
		data, err := proto.Marshal(entry)
		if err != nil {
			t.Fatal(err)
		}
		for what, secret := range secrets {
			if bytes.Contains(data, []byte(secret)) {
				t.Errorf("%s stands in entry %v", what, entry)
			}
		}
	}
}

// memberDeeds are those about members, bikes and policies.
func memberDeeds(w *world, secrets map[string]string) []deed {
	bo := club + "/members/bo"
	code, tourer := "", bo+"/bikes/bike-1"
	var device *pb.Device
	var unused *pb.Invite
	return []deed{
		{"ClubService/CreateInvite", "sec", func() error {
			made, err := w.clubs.CreateInvite(w.as("sec"), &pb.CreateInviteRequest{Parent: club, Invite: &pb.Invite{ForMember: bo}})
			code = made.GetCode()
			secrets["invite code"] = code[strings.Index(code, ".")+1:]
			return err
		}},
		{"ClubService/SuspendMember", "sec", func() error { return w.suspendAs("sec", "bo") }},
		{"ClubService/ReinstateMember", "sec", func() error { return w.reinstate("bo") }},
		{"ClubService/AcceptInvite", "bo", func() error {
			let, err := w.clubs.AcceptInvite(w.ctx, &pb.AcceptInviteRequest{Code: code, DeviceTitle: secrets["title of a device"]})
			device = let.GetDevice()
			secrets["token of the tablet"] = let.GetToken()
			return err
		}},
		{"ClubService/CreateInvite", "sec", func() (err error) {
			unused, err = w.clubs.CreateInvite(w.as("sec"), &pb.CreateInviteRequest{Parent: club, Invite: &pb.Invite{ForMember: bo}})
			return err
		}},
		{"ClubService/WithdrawInvite", "sec", func() error { return w.withdraw(unused.Name) }},
		{"ClubService/InviteDevice", "bo", func() error {
			made, err := w.clubs.InviteDevice(w.as("bo"), &pb.InviteDeviceRequest{Parent: bo})
			secrets["code of an own device"] = made.GetCode()[strings.Index(made.GetCode(), ".")+1:]
			return err
		}},
		{"ClubService/RevokeDevice", "bo", func() error {
			_, err := w.clubs.RevokeDevice(w.as("bo"), &pb.RevokeDeviceRequest{Name: device.Name})
			return err
		}},
		{"ClubService/UpdateMember", "bo", func() error {
			_, err := w.clubs.UpdateMember(w.as("bo"), &pb.UpdateMemberRequest{Member: &pb.Member{Name: bo, Email: secrets["e-mail"]},
				UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"email"}}})
			return err
		}},
		{"BikeService/DeclareBike", "bo", func() error {
			_, err := w.bikes.DeclareBike(w.as("bo"), &pb.DeclareBikeRequest{Parent: bo, Facts: bike(secrets["title of a bike"], 300)})
			return err
		}},
		{"BikeService/RecordCare", "bo", func() error {
			_, err := w.bikes.RecordCare(w.as("bo"), &pb.RecordCareRequest{Parent: tourer,
				Entry: &pb.CareEntry{Work: pb.CareEntry_WASHED, DoneOn: "2026-12-10", Note: secrets["care note"]}})
			return err
		}},
		{"BikeService/RetireBike", "sec", func() error {
			_, err := w.bikes.RetireBike(w.as("sec"), &pb.RetireBikeRequest{Name: tourer})
			return err
		}},
		{"PolicyService/AdoptPolicy", "sec", func() error {
			_, err := w.policies.AdoptPolicy(w.as("sec"), &pb.AdoptPolicyRequest{Parent: club, File: "next.yaml", Note: secrets["note"],
				Content: append(bytes.Clone(policyfile.Winter), "# edited\n"...), EffectiveFrom: "2027-01-01"})
			return err
		}},
		{"PolicyService/RestorePolicy", "sec", func() error {
			_, err := w.policies.RestorePolicy(w.as("sec"), &pb.RestorePolicyRequest{Name: club + "/policies/1", EffectiveFrom: "2027-02-01"})
			return err
		}},
	}
}

// rideDeeds are those about a ride, from its beginning to its end.
func rideDeeds(w *world, secrets map[string]string) []deed {
	var ride, other *pb.Ride
	return []deed{
		{"RideService/CreateRide", "lea", func() (err error) {
			ride, err = w.rides.CreateRide(w.as("lea"), &pb.CreateRideRequest{Parent: club, Ride: sunday(), RouteGpx: gpx(w.t)})
			return err
		}},
		{"RideService/CreateRide", "lea", func() (err error) {
			other, err = w.rides.CreateRide(w.as("lea"), &pb.CreateRideRequest{Parent: club, Ride: sunday(), RouteGpx: gpx(w.t)})
			return err
		}},
		{"RideService/CallOffRide", "lea", func() error {
			_, err := w.rides.CallOffRide(w.as("lea"), &pb.CallOffRideRequest{Name: other.Name, Reason: secrets["reason"]})
			return err
		}},
		{"RideService/UpdateRide", "lea", func() error {
			_, err := w.change("lea", &pb.Ride{Name: ride.Name, MeetingPoint: "The station"}, "meeting_point")
			return err
		}},
		{"RideService/ReadForecast", "lea", func() error {
			_, err := w.readForecast("lea", ride.Name, forecastFile(w.t, "marrowdale.json"))
			return err
		}},
		{"RideService/DropForecast", "lea", func() error {
			_, err := w.rides.DropForecast(w.as("lea"), &pb.DropForecastRequest{Name: ride.Name})
			return err
		}},
		{"RideService/JoinRide", "ben", func() error {
			_, err := w.join("ben", ride.Name, club+"/members/ben/bikes/bike-1", nil)
			return err
		}},
		{"RideService/AddGuest", "lea", func() error {
			_, err := w.rides.AddGuest(w.as("lea"), &pb.AddGuestRequest{Parent: ride.Name, DisplayName: "Gus", Facts: bike(secrets["title of a bike"], 300)})
			return err
		}},
		{"ClubService/CreateInvite", "lea", func() error {
			_, err := w.clubs.CreateInvite(w.as("lea"), &pb.CreateInviteRequest{Parent: club, Invite: &pb.Invite{DisplayName: "Gil", ForRide: ride.Name}})
			return err
		}},
		{"RideService/JoinRide", "lea", func() error {
			_, err := w.join("lea", ride.Name, club+"/members/lea/bikes/bike-1", nil)
			return err
		}},
		{"RideService/PinRider", "lea", func() error {
			_, err := w.rides.PinRider(w.as("lea"), &pb.PinRiderRequest{Parent: ride.Name, Member: club + "/members/ben", Group: "brisk", Reason: secrets["why"]})
			return err
		}},
		{"RideService/UnpinRider", "lea", func() error {
			_, err := w.rides.UnpinRider(w.as("lea"), &pb.UnpinRiderRequest{Parent: ride.Name, Member: club + "/members/ben"})
			return err
		}},
		{"RideService/PinGroup", "lea", func() error {
			_, err := w.rides.PinGroup(w.as("lea"), &pb.PinGroupRequest{Parent: ride.Name, Group: "brisk", Runs: true, Reason: secrets["why"]})
			return err
		}},
		{"RideService/UnpinGroup", "lea", func() error {
			_, err := w.rides.UnpinGroup(w.as("lea"), &pb.UnpinGroupRequest{Parent: ride.Name, Group: "brisk"})
			return err
		}},
		{"StartService/PutBackStart", "lea", func() error {
			_, err := w.starts.PutBackStart(w.as("lea"), &pb.PutBackStartRequest{Name: ride.Name, StartLocal: "2026-12-13T10:45", Reason: secrets["why"]})
			return err
		}},
		{"RideService/PublishRoster", "lea", func() error {
			_, err := w.rides.PublishRoster(w.as("lea"), &pb.PublishRosterRequest{Parent: ride.Name})
			return err
		}},
		{"RideService/ShareRoster", "lea", func() error {
			share, err := w.rides.ShareRoster(w.as("lea"), &pb.ShareRosterRequest{Parent: ride.Name})
			secrets["key of a link"] = share.GetKey()
			return err
		}},
		{"RideService/UnshareRoster", "sec", func() error {
			_, err := w.rides.UnshareRoster(w.as("sec"), &pb.UnshareRosterRequest{Parent: ride.Name})
			return err
		}},
		{"RollCallService/RecordMarks", "lea", func() error {
			_, err := w.rolls.RecordMarks(w.as("lea"), &pb.RecordMarksRequest{Parent: ride.Name, Marks: []*pb.Mark{{
				Name: ride.Name + "/marks/m1", Member: club + "/members/ben", What: pb.Mark_SIGNED_ON}}})
			return err
		}},
		{"StartService/RecordLookOver", "lea", func() error {
			_, err := w.starts.RecordLookOver(w.as("lea"), &pb.RecordLookOverRequest{Parent: ride.Name, Member: club + "/members/ben", Note: secrets["note"]})
			return err
		}},
		{"PersonalService/SetEmergencyContacts", "ben", func() error { return w.giveContacts("ben", secrets) }},
		{"PersonalService/ExportMember", "ben", func() error {
			_, err := w.export("ben")
			return err
		}},
		{"PersonalService/ReadRideContacts", "lea", func() error {
			w.setClock(ride.StartAt.AsTime().Add(-time.Hour))
			_, err := w.personal.ReadRideContacts(w.as("lea"), &pb.ReadRideContactsRequest{Parent: ride.Name, Member: club + "/members/ben"})
			return err
		}},
		{"RideService/WithdrawSignup", "ben", func() error {
			_, err := w.rides.WithdrawSignup(w.as("ben"), &pb.WithdrawSignupRequest{Name: ride.Name + "/signups/ben"})
			return err
		}},
		{"RollCallService/CloseGroup", "sec", func() error {
			w.setClock(time.Date(2026, 12, 13, 17, 0, 0, 0, time.UTC))
			_, err := w.rolls.CloseGroup(w.as("sec"), &pb.CloseGroupRequest{Name: ride.Name, Group: "brisk", Reason: secrets["why"]})
			return err
		}},
		{"RollCallService/CloseRide", "sec", func() error {
			w.setClock(time.Date(2026, 12, 13, 17, 0, 0, 0, time.UTC))
			_, err := w.rolls.CloseRide(w.as("sec"), &pb.CloseRideRequest{Name: ride.Name, Reason: secrets["why"]})
			return err
		}},
		{"RollCallService/ReopenRide", "lea", func() error {
			_, err := w.rolls.ReopenRide(w.as("lea"), &pb.ReopenRideRequest{Name: ride.Name, Reason: secrets["why"]})
			return err
		}},
		{"IncidentService/RecordIncident", "sec", func() error {
			incident := fell()
			incident.Account, incident.Photographs = secrets["account"], []string{secrets["photograph"]}
			_, err := w.recordIncident("sec", ride.Name, incident)
			return err
		}},
		{"IncidentService/AmendIncident", "sec", func() error {
			_, err := w.incidents.AmendIncident(w.as("sec"), &pb.AmendIncidentRequest{Name: ride.Name + "/incidents/1", Text: secrets["account"]})
			return err
		}},
		{"IncidentService/ReadIncident", "ben", func() error {
			_, err := w.incidents.ReadIncident(w.as("ben"), &pb.ReadIncidentRequest{Name: ride.Name + "/incidents/1"})
			return err
		}},
		{"IncidentService/MarkReported", "sec", func() error {
			_, err := w.incidents.MarkReported(w.as("sec"), &pb.MarkReportedRequest{Name: ride.Name + "/incidents/1", NeedNotBe: true, Note: secrets["why"]})
			return err
		}},
		{"PersonalService/EraseMember", "sec", func() error {
			_, err := w.erase("sec", "ben", "Ben")
			return err
		}},
	}
}

// TestReadersLeaveNothing calls every method that reads, and every other one with what it refuses: the log stays.
func TestReadersLeaveNothing(t *testing.T) {
	w := newWorld(t)
	p := &place{world: w, ride: w.ride("sec", sunday()).Name, invite: club + "/invites/none"}
	before := len(w.auditLog())
	called := 0
	for method, access := range server.AccessTable() {
		if strings.HasSuffix(method, "/ExportMember") || strings.HasSuffix(method, "/InviteDevice") {
			continue // it needs no more than the name to be done
		}
		request := w.request(method)
		if path := access.GetRecord(); path != "" {
			set(request, path, p.recordFor(method, path, p.ride, "sec"))
		}
		err := w.first(w.as("sec"), method, request, w.response(method))
		if reads(method) || err != nil {
			called++
			continue
		}
		switch method {
		case "/gritward.v1.RideService/PublishRoster", "/gritward.v1.RideService/DropForecast", "/gritward.v1.ClubService/ReinstateMember",
			"/gritward.v1.PersonalService/SetEmergencyContacts":
			// there is nothing to do, which is no error
		default:
			t.Errorf("%s was done with next to nothing in the request", method)
		}
	}
	if after := len(w.auditLog()); after != before {
		t.Errorf("%d calls left %v", called, w.auditLog()[before:])
	}
}

// TestListAudit reads the log in pages, all of it and of one member, as the secretary.
func TestListAudit(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	all := w.auditLog()
	slices.Reverse(all)
	pages := func(about string, size int32) (got []*pb.AuditEntry, head string) {
		for token := ""; ; {
			answer, err := w.clubs.ListAudit(w.as("sec"), &pb.ListAuditRequest{Parent: club, PageSize: size, PageToken: token, About: about})
			if err != nil || len(answer.Entries) > int(size) {
				t.Fatalf("%d entries: %s", len(answer.GetEntries()), told(err))
			}
			got, head, token = append(got, answer.Entries...), answer.Head, answer.NextPageToken
			if token == "" {
				return got, head
			}
		}
	}
	same := func(got, want []*pb.AuditEntry) bool {
		return slices.EqualFunc(got, want, func(a, b *pb.AuditEntry) bool { return proto.Equal(a, b) })
	}
	for _, size := range []int32{1, 3, int32(len(all)), 1000} {
		got, head := pages("", size)
		if !same(got, all) {
			t.Errorf("pages of %d: %d entries of %d", size, len(got), len(all))
		}
		parsed, err := ledger.ParseAuditHead(head)
		if err != nil || parsed.Club != "fenwick" || parsed.Number != int64(len(all)) {
			t.Errorf("head %q: %v", head, err)
		}
	}
	for about, want := range map[string]int{club + "/members/lea": 4, ride.Name: 1, club + "/members/le": 0, club: len(all)} {
		got, _ := pages(about, 2)
		if len(got) != want {
			t.Errorf("%s: %d entries, want %d: %v", about, len(got), want, got)
		}
	}
	for _, token := range []string{"x", "0", "-1", "99999999999999999999", "1 "} {
		_, err := w.clubs.ListAudit(w.as("sec"), &pb.ListAuditRequest{Parent: club, PageToken: token})
		if want := "InvalidArgument | FIELD_INVALID | page_token: "; !strings.HasPrefix(told(err), want) {
			t.Errorf("token %q: %s", token, told(err))
		}
	}
	past, err := w.clubs.ListAudit(w.as("sec"), &pb.ListAuditRequest{Parent: club, PageToken: strconv.Itoa(len(all) + 1000)})
	if err != nil || !same(past.Entries, all) {
		t.Errorf("a token past the end: %d entries, %s", len(past.GetEntries()), told(err))
	}
}
