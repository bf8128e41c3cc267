package server_test

import (
	"bytes"
	"context"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/roster"
	"gritward/internal/server"
	"gritward/internal/store"
	"gritward/internal/store/enginetest"
	pb "gritward/proto/gritward/v1"
)

// told of Ada Fell, who is erased: none of it may be left in the store's file.
var ofAda = []string{"Ada Fell", "ada.fell@example.org", "01632 960 222", "plum randonneur", "creaks when cold", "drop-bar lamp", "asked for a gentle day",
	"01632 960 111", "bee stings", "went to the station", "phone of Ada"}

// erasable is a world in which much is stored of Ada: a past ride with marks, a published ride to come, contacts, care.
func erasable(t *testing.T) (w *world, ada string, past, coming *pb.Ride) {
	w = newWorld(t)
	w.member("Lea", &pb.Member{MayLead: true}, pb.Role_LEADER)
	w.member("Bo Tarn", &pb.Member{MayMarkBack: true})
	w.member("Ada Fell", &pb.Member{MayLead: true, MayMarkBack: true, PaceMaxKmh: 40}, pb.Role_LEADER)
	ada = club + "/members/ada-fell"
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(told(err))
		}
	}
	_, err := w.clubs.UpdateMember(w.as("ada-fell"), &pb.UpdateMemberRequest{Member: &pb.Member{Name: ada, Email: "ada.fell@example.org"},
		UpdateMask: mask("email")})
	must(err)
	facts := bike("plum randonneur", 300)
	facts.Note, facts.Lights[0].Label = "creaks when cold", "drop-bar lamp"
	bikeOfAda := w.declare("ada-fell", facts)
	w.declare("lea", bike("winter bike", 300))
	w.declare("bo-tarn", bike("winter bike", 300))
	_, err = pb.NewPersonalServiceClient(w.conn).SetEmergencyContacts(w.as("ada-fell"), &pb.SetEmergencyContactsRequest{Contacts: &pb.EmergencyContacts{
		Name: ada + "/contacts", MedicalNote: "bee stings", Call: []*pb.EmergencyContact{{ContactName: "Bob", Phone: "01632 960 111"}}}})
	must(err)
	_, err = w.bikes.RecordCare(w.as("ada-fell"), &pb.RecordCareRequest{Parent: bikeOfAda, Entry: &pb.CareEntry{Work: pb.CareEntry_WASHED, Note: "creaks when cold"}})
	must(err)
	ride := func(start string) *pb.Ride {
		asked := sunday()
		asked.StartLocal, asked.LeaderPhone = start, "01632 960 222"
		made := w.ride("ada-fell", asked)
		for _, id := range []string{"ada-fell", "lea", "bo-tarn"} {
			_, err := w.join(id, made.Name, club+"/members/"+id+"/bikes/bike-1", nil)
			must(err)
		}
		_, err := w.rides.PinRider(w.as("ada-fell"), &pb.PinRiderRequest{Parent: made.Name, Member: ada, Group: "easy", Reason: "asked for a gentle day"})
		must(err)
		_, err = w.rides.PublishRoster(w.as("ada-fell"), &pb.PublishRosterRequest{Parent: made.Name})
		must(err)
		return made
	}
	past = ride("2026-12-13T10:30")
	w.setClock(time.Date(2026, 12, 13, 17, 0, 0, 0, time.UTC))
	_, err = w.rolls.RecordMarks(w.as("ada-fell"), &pb.RecordMarksRequest{Parent: past.Name, Marks: []*pb.Mark{
		{Name: past.Name + "/marks/a", Member: ada, What: pb.Mark_SIGNED_ON, Note: "went to the station", LatDeg: proto.Float64(54)},
		{Name: past.Name + "/marks/b", Member: club + "/members/lea", What: pb.Mark_SIGNED_ON, Note: "phone of Ada Fell lent"}}})
	must(err)
	w.setClock(time.Date(2026, 12, 16, 17, 0, 0, 0, time.UTC))
	coming = ride("2026-12-20T10:30")
	return w, ada, past, coming
}

func (w *world) erase(as, id, name string) (*pb.EraseMemberResponse, error) {
	return pb.NewPersonalServiceClient(w.conn).EraseMember(w.as(as), &pb.EraseMemberRequest{Name: club + "/members/" + id, DisplayName: name})
}

// leftOf lists what of Ada lies in a file.
func (w *world) leftOf() (left []string) {
	w.t.Helper()
	return ofAdaIn(w.bytesKept())
}

func ofAdaIn(data []byte) (left []string) {
	for _, word := range ofAda {
		if bytes.Contains(data, []byte(word)) {
			left = append(left, word)
		}
	}
	return left
}

// TestErased erases a member, and greps the raw file of the store.
func TestErased(t *testing.T) {
	w, ada, past, coming := erasable(t)
	if left := w.leftOf(); len(left) < 6 {
		t.Fatalf("before, only %q lies in the file: this test shows little", left)
	}
	if _, err := w.erase("ada-fell", "ada-fell", "Ada"); !strings.Contains(told(err), "is not the name of this member") {
		t.Error(told(err))
	}
	left, err := w.erase("ada-fell", "ada-fell", "ada fell")
	if err != nil {
		t.Fatal(told(err))
	}
	if !slices.Equal(left.Leaderless, []string{coming.Name}) {
		t.Errorf("to be led by another: %v", left.Leaderless)
	}
	if left := w.leftOf(); len(left) > 0 {
		t.Errorf("left in the file: %q", left)
	}
	if _, err := w.clubs.WhoAmI(w.as("ada-fell"), &pb.WhoAmIRequest{}); err == nil {
		t.Error("the token is good still")
	}
	member, err := w.clubs.GetMember(w.as("sec"), &pb.GetMemberRequest{Name: ada})
	if err != nil || member.DisplayName != "former member" || len(member.Roles) > 0 || member.ErasedAt == nil {
		t.Errorf("%v: %v", member, err)
	}
	for _, ride := range []*pb.Ride{past, coming} {
		issue, err := w.rides.GetRoster(w.as("sec"), &pb.GetRosterRequest{Name: ride.Name + "/rosters/1"})
		if err != nil {
			t.Fatal(told(err))
		}
		text := issue.String()
		if strings.Contains(text, "Ada") || strings.Contains(text, "plum") || !strings.Contains(text, "former member") || !strings.Contains(text, "taken out on") {
			t.Errorf("issue of %s: %s", ride.Name, text)
		}
		issue.PageUrl = ""
		if intact, err := roster.Intact(issue); !intact || err != nil || issue.Number != 1 || issue.ErasedAt == nil {
			t.Errorf("number %d, intact %t, %v", issue.Number, intact, err)
		}
		seats := 0
		for _, group := range issue.Placement.Groups {
			for _, row := range group.Rows {
				for _, rider := range []*pb.Rider{row.Left, row.Right} {
					if rider.GetMember() == ada {
						seats++
					}
				}
			}
		}
		if seats != 1 {
			t.Errorf("%d places of the former member", seats)
		}
		if _, err := w.rides.ListSignups(w.as("lea"), &pb.ListSignupsRequest{Parent: ride.Name}); err != nil {
			t.Error(told(err))
		}
	}
	if _, err := w.rides.PublishRoster(w.as("sec"), &pb.PublishRosterRequest{Parent: coming.Name}); err != nil && !strings.Contains(told(err), "nobody can be placed") {
		t.Error(told(err))
	}
	for name, refused := range map[string]func() error{
		"changed": func() error {
			_, err := w.clubs.UpdateMember(w.as("sec"), &pb.UpdateMemberRequest{Member: &pb.Member{Name: ada, DisplayName: "X"}, UpdateMask: mask("display_name")})
			return err
		},
		"suspended": func() error { return w.suspendAs("sec", "ada-fell") },
		"invited": func() error {
			_, err := w.clubs.CreateInvite(w.as("sec"), &pb.CreateInviteRequest{Parent: club, Invite: &pb.Invite{ForMember: ada}})
			return err
		},
	} {
		if err := refused(); !strings.Contains(told(err), "NOT_FOUND") {
			t.Errorf("a former member was %s: %s", name, told(err))
		}
	}
	if _, err := w.erase("sec", "ada-fell", "x"); err != nil {
		t.Error("again:", told(err))
	}
	if err := w.ledger.View(w.ctx, "fenwick", func(tx *ledger.Tx) error { _, err := tx.VerifyAudit(nil); return err }); err != nil {
		t.Error(err)
	}
}

func TestEraseRefused(t *testing.T) {
	w, _, _, coming := erasable(t)
	if _, err := w.erase("lea", "bo-tarn", "Bo Tarn"); !strings.Contains(told(err), "NOT_ALLOWED") {
		t.Error(told(err))
	}
	if _, err := w.erase("sec", "sec", "Sec"); !strings.Contains(told(err), "LAST_SECRETARY") {
		t.Error(told(err))
	}
	w.setClock(coming.StartAt.AsTime().Add(time.Hour))
	if _, err := w.erase("sec", "bo-tarn", "Bo Tarn"); !strings.Contains(told(err), "WRONG_STATE") {
		t.Error(told(err))
	}
	w.setClock(coming.StartAt.AsTime().Add(25 * time.Hour))
	if _, err := w.erase("sec", "bo-tarn", "Bo Tarn"); err != nil {
		t.Error(told(err))
	}
}

// TestErasedAgain puts a store from before an erasure back, as from a backup.
func TestErasedAgain(t *testing.T) {
	w, _, _, _ := erasable(t)
	folder := t.TempDir()
	list, copied := filepath.Join(folder, "club.db.erased"), filepath.Join(folder, "club.db")
	opened := enginetest.Open(t, copied, w.clock)
	if _, err := store.Copy(t.Context(), w.store, opened, nil); err != nil {
		t.Fatal(err)
	}
	log := slog.New(slog.NewTextHandler(w.log, nil))
	erasures := server.NewErasures(list, w.ledger, log)
	if _, err := w.erase("ada-fell", "ada-fell", "Ada Fell"); err != nil {
		t.Fatal(told(err))
	}
	if err := erasures.Settle(t.Context()); err != nil { // as at the next start, had the server ended before the list was written
		t.Fatal(err)
	}
	if info, err := os.Stat(list); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", info, err)
	}
	restored := ledger.New(opened, w.clock)
	for range 2 {
		if err := server.NewErasures(list, restored, log).Settle(context.Background()); err != nil {
			t.Fatal(err)
		}
	}
	entries := 0
	if err := restored.View(t.Context(), "fenwick", func(tx *ledger.Tx) error {
		if _, err := tx.VerifyAudit(nil); err != nil {
			t.Error(err)
		}
		return tx.AuditDown(0, 0, func(entry *pb.AuditEntry) error {
			if entry.Method == "erase" {
				entries++
			}
			return nil
		})
	}); err != nil {
		t.Fatal(err)
	}
	left := ofAdaIn(enginetest.Raw(t, opened, copied))
	if err := opened.Close(); err != nil {
		t.Error(err)
	}
	if len(left) > 0 || entries != 1 || !strings.Contains(w.log.String(), "was erased again") {
		t.Errorf("left in the restored file: %q; %d entries", left, entries)
	}
	if err := os.WriteFile(list, []byte("clubs/fenwick/members/x\nAda Fell\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := erasures.Settle(t.Context()); err == nil || !strings.Contains(err.Error(), list+":2: ") {
		t.Errorf("a damaged list: %v", err)
	}
}

func FuzzReadErased(f *testing.F) {
	f.Add([]byte("# x\nclubs/a/members/b\n"))
	f.Add([]byte("clubs/a/members/-"))
	f.Add([]byte("\xff\x00"))
	f.Fuzz(func(t *testing.T, data []byte) {
		listed, err := server.ReadErased(data)
		if err != nil {
			return
		}
		for _, name := range listed {
			if _, err := names.Parse("x", name, names.MemberShape); err != nil {
				t.Errorf("%q: %v", name, err)
			}
		}
		again, err := server.ReadErased([]byte(strings.Join(listed, "\n")))
		if err != nil || !slices.Equal(again, listed) {
			t.Errorf("%v, then %v: %v", listed, again, err)
		}
	})
}

func mask(paths ...string) *fieldmaskpb.FieldMask { return &fieldmaskpb.FieldMask{Paths: paths} }
