package server_test

import (
	"strings"
	"testing"

	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// TestErasedElsewhere: letters to the erased are given up, what others wrote loses the name, an invite for a namesake stays,
// the next who waits moves up, and one entry tells of it all.
func TestErasedElsewhere(t *testing.T) {
	w := newWorldSending(t)
	w.member("Lea", &pb.Member{MayLead: true}, pb.Role_LEADER)
	w.member("Ada Fell", nil)
	w.member("Bo Tarn", nil)
	ada := club + "/members/ada-fell"
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(told(err))
		}
	}
	_, err := w.clubs.UpdateMember(w.as("ada-fell"), &pb.UpdateMemberRequest{Member: &pb.Member{Name: ada, Email: "ada@example.org"}, UpdateMask: mask("email")})
	must(err)
	facts := bike("winter bike", 300)
	facts.Note = "built by Ada Fell"
	w.declare("ada-fell", bike("winter bike", 300))
	bikeOfBo := w.declare("bo-tarn", facts)
	_, err = w.bikes.RecordCare(w.as("bo-tarn"), &pb.RecordCareRequest{Parent: bikeOfBo, Entry: &pb.CareEntry{Work: pb.CareEntry_WASHED, Note: "with Ada Fell"}})
	must(err)
	asked := sunday()
	asked.Places = 1
	ride := w.ride("lea", asked)
	for _, id := range []string{"ada-fell", "bo-tarn"} {
		_, err := w.join(id, ride.Name, club+"/members/"+id+"/bikes/bike-1", nil)
		must(err)
	}
	must(w.ledger.Update(w.ctx, "fenwick", func(tx *ledger.Tx) error {
		for range 2 {
			letter := &pb.Letter{Member: ada, Kind: pb.Letter_ROSTER}
			if err := tx.AddLetter(names.Last(ride.Name), letter); err != nil {
				return err
			}
			letter.Refusal = "no such mailbox"
			if err := tx.SaveLetter(letter); err != nil {
				return err
			}
		}
		look := &pb.LookOver{Ride: ride.Name, Note: "a lamp lent by Ada Fell"}
		if err := tx.AddLookOver("bo-tarn", "bike-1", look); err != nil {
			return err
		}
		return tx.AddClosing(names.Last(ride.Name), &pb.Closing{Group: "easy", Reason: "Ada Fell went home by train"})
	}))
	namesake := w.invite("sec", &pb.Invite{DisplayName: "Ada Fell"})
	before := len(w.auditLog())
	_, err = w.erase("ada-fell", "ada-fell", "Ada Fell")
	must(err)
	if made := len(w.auditLog()) - before; made != 1 {
		t.Errorf("%d entries", made)
	}
	must(w.ledger.View(w.ctx, "fenwick", func(tx *ledger.Tx) error {
		queue, err := tx.Queue()
		if err != nil || len(queue) > 0 {
			t.Errorf("queued still: %v %v", queue, err)
		}
		letters := 0
		if err := tx.Letters(names.Last(ride.Name), func(letter *pb.Letter) error {
			letters++
			if letter.State != pb.Letter_GAVE_UP || strings.Contains(letter.Refusal, "mailbox") {
				t.Errorf("%v", letter)
			}
			return nil
		}); err != nil {
			return err
		}
		if letters != 2 {
			t.Errorf("%d letters", letters)
		}
		signup, err := tx.Signup(names.Last(ride.Name), "bo-tarn")
		if signup.GetState() != pb.Signup_IN {
			t.Errorf("who waited: %v", signup)
		}
		if err != nil {
			return err
		}
		found, err := tx.Bike("bo-tarn", "bike-1")
		if note := found.GetDeclaration().GetFacts().GetNote(); note != "built by former member" {
			t.Errorf("%q", note)
		}
		if err != nil {
			return err
		}
		if err := tx.LookOvers("bo-tarn", "bike-1", func(look *pb.LookOver) error {
			if look.Note != "a lamp lent by former member" {
				t.Errorf("%q", look.Note)
			}
			return nil
		}); err != nil {
			return err
		}
		if err := tx.Closings(names.Last(ride.Name), func(closing *pb.Closing) error {
			if closing.Reason != "former member went home by train" {
				t.Errorf("%q", closing.Reason)
			}
			return nil
		}); err != nil {
			return err
		}
		return tx.Care("bo-tarn", "bike-1", 0, 0, func(entry *pb.CareEntry) error {
			if entry.Note != "with former member" {
				t.Errorf("%q", entry.Note)
			}
			return nil
		})
	}))
	list, err := w.clubs.ListInvites(w.as("sec"), &pb.ListInvitesRequest{Parent: club})
	must(err)
	if len(list.Invites) != 1 || list.Invites[0].Name != namesake.Name {
		t.Errorf("invites: %v", list.Invites)
	}
}
