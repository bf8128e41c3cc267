package daemon_test

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/ledger"
	"gritward/internal/store/bolt"
	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

// TestRetentionShown: what would be removed is shown, and nothing is written.
func TestRetentionShown(t *testing.T) {
	data := filepath.Join(t.TempDir(), "club.db")
	if code, _, errOut := run(t, "found", "fenwick", "--data", data, "--title", "Fenwick Wheelers", "--secretary", "Ida Rook",
		"--zone", "Europe/London", "--at", "54.1,-2.2"); code != 0 {
		t.Fatalf("exit %d: %s", code, errOut)
	}
	code, out, errOut := run(t, "retention", "--data", data)
	if code != 0 || out != "fenwick: no policy is in force, and nothing is removed\n" {
		t.Errorf("exit %d: %s%s", code, out, errOut)
	}
	opened, err := bolt.Open(bolt.Options{Path: data, Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	start := time.Now().Add(-731 * 24 * time.Hour)
	err = ledger.New(opened, time.Now).Update(t.Context(), "fenwick", func(tx *ledger.Tx) error {
		if err := tx.AddPolicy(&pb.PolicyRevision{File: "winter.yaml", Text: string(policyfile.Winter), EffectiveFrom: "2020-01-01", Digest: "x"}); err != nil {
			return err
		}
		return tx.SaveRide(&pb.Ride{Name: "clubs/fenwick/rides/2024-01-01-loop", Title: "The loop", StartLocal: "2024-01-01T10:30", StartAt: timestamppb.New(start)})
	})
	if err = errors.Join(err, opened.Close()); err != nil {
		t.Fatal(err)
	}
	before, err := os.ReadFile(data)
	if err != nil {
		t.Fatal(err)
	}
	code, out, errOut = run(t, "retention", "--data", data)
	if code != 0 || out != "fenwick: to be removed, by policy 1: 1 ride\n  2024-01-01T10:30  The loop\n" {
		t.Errorf("exit %d: %s%s", code, out, errOut)
	}
	code, out, _ = run(t, "retention", "--data", data, "--json")
	var answer struct {
		Clubs []struct {
			Club, Policy string
			Rides        []struct{ Name, Title string }
			Invites      int
		}
	}
	if err := json.Unmarshal([]byte(out), &answer); err != nil || code != 0 || len(answer.Clubs) != 1 || len(answer.Clubs[0].Rides) != 1 || answer.Clubs[0].Rides[0].Title != "The loop" {
		t.Errorf("exit %d, %v: %s", code, err, out)
	}
	if after, err := os.ReadFile(data); err != nil || string(after) != string(before) {
		t.Errorf("looking changed the store: %v", err)
	}
	if code, _, errOut = run(t, "retention", "--data", filepath.Join(t.TempDir(), "none.db")); code != 1 || !strings.Contains(errOut, "none.db") {
		t.Errorf("no store: exit %d: %s", code, errOut)
	}
	if code, _, _ = run(t, "retention", "now"); code != 2 {
		t.Errorf("an argument: exit %d", code)
	}
}
