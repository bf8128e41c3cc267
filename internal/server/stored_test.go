package server_test

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gritward/internal/ledger"
	"gritward/internal/store"
	"gritward/internal/store/bolt"
	pb "gritward/proto/gritward/v1"
)

// storedFiles is where a file of every schema number lies, from which migrations are tested.
const storedFiles = "../store/bolt/testdata"

// storedWorld is a world in whose store records of every kind lie, of two clubs.
func storedWorld(t *testing.T) *world {
	w, old, _ := oldRide(t)
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(told(err))
		}
	}
	w.found("elsewhere", "Stranger")
	_, err := w.bikes.RecordCare(w.as("ben"), &pb.RecordCareRequest{Parent: club + "/members/ben/bikes/bike-1", RequestId: "a-request-of-ben",
		Entry: &pb.CareEntry{Work: pb.CareEntry_WASHED, Note: "salt off"}})
	must(err)
	incident, err := w.recordIncident("lea", old.Name, fell())
	must(err)
	_, err = w.incidents.AmendIncident(w.as("lea"), &pb.AmendIncidentRequest{Name: incident.Name, Text: "The grid was wet."})
	must(err)
	must(w.retention().Look(w.ctx))
	must(w.ledger.Update(w.ctx, "fenwick", func(tx *ledger.Tx) error { return tx.OweScrub("a test") }))
	return w
}

// rawKinds counts the records of a club by what comes first in their keys.
func (w *world) rawKinds() map[string]int {
	w.t.Helper()
	kinds := map[string]int{}
	err := w.store.View(w.ctx, "fenwick", func(tx store.Tx) error {
		return tx.Scan("", "", func(key string, _ []byte) (bool, error) {
			kind, _, _ := strings.Cut(key, "/")
			kinds[kind]++
			return true, nil
		})
	})
	if err != nil {
		w.t.Fatal(err)
	}
	return kinds
}

// TestStoredFile: the file of the newest schema number is stored. With -update it is written, when it is not there; one that is
// there is never written over.
func TestStoredFile(t *testing.T) {
	path := filepath.Join(storedFiles, fmt.Sprintf("schema-%d.db.gz", bolt.Schema))
	_, err := os.Stat(path)
	if err == nil || !*update || !errors.Is(err, fs.ErrNotExist) {
		if err != nil {
			t.Errorf("%v: go test ./internal/server -run TestStoredFile -update writes it", err)
		}
		return
	}
	w := storedWorld(t)
	data, err := os.ReadFile(w.path)
	if err != nil {
		t.Fatal(err)
	}
	packed := &bytes.Buffer{}
	to := gzip.NewWriter(packed)
	_, err = to.Write(data)
	if err := errors.Join(err, to.Close(), os.MkdirAll(storedFiles, 0o755), os.WriteFile(path, packed.Bytes(), 0o644)); err != nil {
		t.Fatal(err)
	}
	t.Logf("wrote %s with %v", path, w.rawKinds())
}
