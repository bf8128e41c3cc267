package server_test

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gritward/internal/ledger"
	"gritward/internal/store"
	"gritward/internal/store/bolt"
	"gritward/internal/store/enginetest"
	pb "gritward/proto/gritward/v1"
)

// storedFiles is where a file of every schema number lies, from which migrations are tested.
const storedFiles = "../store/bolt/testdata"

// storedWorld is a world in whose store records of every kind lie, of two clubs.
func storedWorld(t *testing.T) *world {
	w, old, later := oldRide(t)
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
	_, err = w.rides.ShareRoster(w.as("lea"), &pb.ShareRosterRequest{Parent: later.Name})
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
	if enginetest.Many {
		t.Fatal("the stored file is that of a store in a file: build without the tag etcd")
	}
	w := storedWorld(t)
	data := w.bytesKept()
	packed := &bytes.Buffer{}
	to := gzip.NewWriter(packed)
	_, err = to.Write(data)
	if err := errors.Join(err, to.Close(), os.MkdirAll(storedFiles, 0o755), os.WriteFile(path, packed.Bytes(), 0o644)); err != nil {
		t.Fatal(err)
	}
	t.Logf("wrote %s with %v", path, w.rawKinds())
}

// verified is what Verify finds wrong with the club, by key.
func (w *world) verified() (found map[string]string, records int) {
	w.t.Helper()
	found = map[string]string{}
	err := w.ledger.View(w.ctx, "fenwick", func(tx *ledger.Tx) error {
		return tx.Verify(func(f ledger.Finding) { found[f.Key] += f.What + ". " }, func() { records++ })
	})
	if err != nil {
		w.t.Fatal(err)
	}
	return found, records
}

// raw writes under keys past the ledger; nil deletes. It gives what puts all back.
func (w *world) raw(values map[string][]byte) (back func()) {
	w.t.Helper()
	before := map[string][]byte{}
	write := func(values map[string][]byte, keep bool) {
		err := w.store.Update(w.ctx, "fenwick", func(tx store.Tx) error {
			for key, value := range values {
				old, err := tx.Get(key)
				if keep {
					before[key] = old
				}
				if err == nil && value == nil {
					err = tx.Delete(key)
				} else if err == nil {
					err = tx.Put(key, value)
				}
				if err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			w.t.Fatal(err)
		}
	}
	write(values, true)
	return func() { write(before, false) }
}

// TestVerify: with a record of every kind nothing is wrong. What cannot be read is found, whatever its kind.
func TestVerify(t *testing.T) {
	w := storedWorld(t)
	kinds := w.rawKinds()
	if len(kinds) < 40 {
		t.Errorf("records of %d kinds: %v", len(kinds), kinds)
	}
	sum := 0
	for _, count := range kinds {
		sum += count
	}
	if found, records := w.verified(); len(found) > 0 || records != sum {
		t.Fatalf("%d of %d records; found %v", records, sum, found)
	}
	for kind, key := range w.firstKeys() {
		back := w.raw(map[string][]byte{key: []byte("\xff")})
		found, _ := w.verified()
		if raw := slices.Contains([]string{"due", "policy-text", "ridestart", "role", "namelike", "policyday", "indexed", "times-changed"}, kind); raw != (found[key] == "") {
			t.Errorf("%s is damaged: found %v", key, found)
		}
		back()
	}
}

// firstKeys are the first keys of every kind.
func (w *world) firstKeys() map[string]string {
	w.t.Helper()
	keys := map[string]string{}
	err := w.store.View(w.ctx, "fenwick", func(tx store.Tx) error {
		return tx.Scan("", "", func(key string, _ []byte) (bool, error) {
			if kind, _, _ := strings.Cut(key, "/"); keys[kind] == "" {
				keys[kind] = key
			}
			return true, nil
		})
	})
	if err != nil {
		w.t.Fatal(err)
	}
	return keys
}

// TestVerifyFindsWhatIsMissing: so is all found that lies below, or leads to, what is not there.
func TestVerifyFindsWhatIsMissing(t *testing.T) {
	w := storedWorld(t)
	keys := w.firstKeys()
	first := func(kind string) string { return keys[kind] }
	ride := first("ride")
	for name, row := range map[string]struct {
		values map[string][]byte
		at     string
		says   string
	}{
		"an unknown kind":    {map[string][]byte{"bikes/x": []byte("x")}, "bikes/x", "is of no kind"},
		"too deep":           {map[string][]byte{"bike/ben/bike-1/x": {}}, "bike/ben/bike-1/x", "inside, and should be clubs/fenwick/members/ben/bikes/bike-1/x"},
		"not deep enough":    {map[string][]byte{"bike/ben": {}}, "bike/ben", "does not lie where"},
		"below a value":      {map[string][]byte{"club/x": {}}, "club/x", "does not lie where"},
		"no member":          {map[string][]byte{"member/ben": nil}, "bike/ben/bike-1", "lies below member/ben, which is not there"},
		"no member, contact": {map[string][]byte{"member/ben": nil}, "contact/ben", "lies below member/ben"},
		"no member, signup":  {map[string][]byte{"member/ben": nil}, "signup/" + strings.TrimPrefix(ride, "ride/") + "/ben", "is of member/ben"},
		"no bike":            {map[string][]byte{"bike/ben/bike-1": nil}, first("care"), "lies below bike/ben/bike-1"},
		"no ride":            {map[string][]byte{ride: nil}, first("route"), "lies below " + ride},
		"no roster":          {map[string][]byte{first("roster"): nil}, ride, "has as its newest roster"},
		"no mark":            {map[string][]byte{first("mark"): nil}, "", "leads to " + first("mark")},
		"no number of it":    {map[string][]byte{first("markno"): nil}, "", "is found by " + first("markno")},
		"no notice":          {map[string][]byte{first("notice"): nil}, first("noticeto"), "leads to"},
		"no letter":          {map[string][]byte{first("letter"): nil}, "", "points to nothing"},
		"no agenda":          {map[string][]byte{first("due"): nil}, "", "is missing"},
		"no incident":        {map[string][]byte{first("incident"): nil}, first("incidentadd"), "lies below"},
		"no text":            {map[string][]byte{first("policy-text"): nil}, first("policy"), "has its text in"},
		"no policy":          {map[string][]byte{first("policy"): nil}, first("policy-text"), "lies below"},
		"no device":          {map[string][]byte{first("device"): nil}, "", "leads to " + first("device")},
		"no index":           {map[string][]byte{first("ridestart"): nil}, "", "is missing"},
		"an index too many":  {map[string][]byte{"ward/ben/x": {}}, "", "points to nothing"},
		"a wrong tally":      {map[string][]byte{first("tally"): {8, 77}}, "", "there are"},
		"no token":           {map[string][]byte{first("token"): nil}, "", "is found by"},
		"a token elsewhere":  {map[string][]byte{first("token"): []byte("ride/x")}, first("token"), "is no device"},
		"moved":              {map[string][]byte{"bike/lea/bike-9": w.value("bike/lea/bike-1")}, "bike/lea/bike-9", "should be clubs/fenwick/members/lea/bikes/bike-9"},
		"another's number":   {map[string][]byte{"change/" + strings.TrimPrefix(ride, "ride/") + "/0000000000000099": w.value(first("change"))}, "", "says that it is change 1"},
	} {
		back := w.raw(row.values)
		found, _ := w.verified()
		hit := strings.Contains(found[row.at], row.says)
		for _, what := range found {
			hit = hit || row.at == "" && strings.Contains(what, row.says)
		}
		if !hit {
			t.Errorf("%s: found %v, want %q at %s", name, found, row.says, row.at)
		}
		back()
	}
	if found, _ := w.verified(); len(found) > 0 {
		t.Errorf("all was put back, and found %v", found)
	}
}

// value reads a record past the ledger.
func (w *world) value(key string) (value []byte) {
	w.t.Helper()
	if err := w.store.View(w.ctx, "fenwick", func(tx store.Tx) (err error) { value, err = tx.Get(key); return err }); err != nil || value == nil {
		w.t.Fatal(key, err)
	}
	return value
}
