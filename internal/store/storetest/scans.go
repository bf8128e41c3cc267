package storetest

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"gritward/internal/store"
)

func scanChecks() map[string]func(*testing.T, Open) {
	return map[string]func(*testing.T, Open){
		"scans by prefix and position":     checkScanTable,
		"a scan ends when visit says so":   checkScanEnds,
		"nothing is written inside a scan": checkWriteInScan,
		"scans and reads inside a scan":    checkNestedScans,
		"scans over pages just emptied":    checkScanAfterDeletes,
	}
}

func checkScanTable(t *testing.T, open Open) {
	s := open(t)
	for _, key := range strings.Fields("a a/1 a/2 a/3 a0 b c/1 c/\xff \xff \xff\xff \xff\xff1") {
		put(t, s, clubA, entry{key, "v" + key})
	}
	for _, row := range []struct{ prefix, bound, up, down string }{
		{"", "", "a a/1 a/2 a/3 a0 b c/1 c/\xff \xff \xff\xff \xff\xff1", "\xff\xff1 \xff\xff \xff c/\xff c/1 b a0 a/3 a/2 a/1 a"},
		{"a/", "", "a/1 a/2 a/3", "a/3 a/2 a/1"},
		{"a/", "a/2", "a/3", "a/1"},
		{"a/", "a/25", "a/3", "a/2 a/1"}, // not there itself
		{"a/", "a/", "a/1 a/2 a/3", ""},  // the prefix itself
		{"a/", "A", "a/1 a/2 a/3", ""},   // below the prefix
		{"a/", "z", "", "a/3 a/2 a/1"},   // above it
		{"a/", "a/3", "", "a/2 a/1"},
		{"a/", "a/1", "a/2 a/3", ""},
		{"a", "a", "a/1 a/2 a/3 a0", ""},
		{"", "b", "c/1 c/\xff \xff \xff\xff \xff\xff1", "a0 a/3 a/2 a/1 a"},
		{"c/", "", "c/1 c/\xff", "c/\xff c/1"},
		{"c/\xff", "", "c/\xff", "c/\xff"},
		{"\xff", "", "\xff \xff\xff \xff\xff1", "\xff\xff1 \xff\xff \xff"}, // no string is above all with this prefix
		{"\xff\xff", "\xff\xff", "\xff\xff1", ""},
		{"\xff", "\xff\xff\xff", "", "\xff\xff1 \xff\xff \xff"},
		{"d", "", "", ""}, {"0", "", "", ""}, {"\xff\xff\xff", "", "", ""},
		{strings.Repeat("a", store.MaxKeyBytes+9), "", "", ""},
	} {
		must(t, view(s, func(tx store.Tx) error {
			var up, down []entry
			must(t, tx.Scan(row.prefix, row.bound, into(&up)))
			must(t, tx.ScanDown(row.prefix, row.bound, into(&down)))
			if got := keys(t, up); got != row.up {
				t.Errorf("Scan(%.20q, %q) = %q, want %q", row.prefix, row.bound, got, row.up)
			}
			if got := keys(t, down); got != row.down {
				t.Errorf("ScanDown(%.20q, %q) = %q, want %q", row.prefix, row.bound, got, row.down)
			}
			return nil
		}))
	}
}

// keys joins the keys visited, and holds each value against its key.
func keys(t rapid.TB, entries []entry) string {
	var found []string
	for _, e := range entries {
		if e.Value != "v"+e.Key {
			t.Errorf("%q came with value %q", e.Key, e.Value)
		}
		found = append(found, e.Key)
	}
	return strings.Join(found, " ")
}

func checkScanEnds(t *testing.T, open Open) {
	s, stop := open(t), errors.New("enough")
	put(t, s, clubA, entry{"a", ""}, entry{"b", ""}, entry{"c", ""})
	must(t, view(s, func(tx store.Tx) error {
		for what, scan := range map[string]func(string, string, store.Visit) error{"Scan": tx.Scan, "ScanDown": tx.ScanDown} {
			for _, end := range []error{nil, stop} {
				visits := 0
				err := scan("", "", func(string, []byte) (bool, error) {
					visits++
					return visits < 2 || end != nil && visits == 2, map[bool]error{true: end}[visits == 2]
				})
				if visits != 2 || err != end {
					t.Errorf("%s: %d visits, error %v; want 2, %v", what, visits, err, end)
				}
			}
		}
		return nil
	}))
}

func checkWriteInScan(t *testing.T, open Open) {
	s := open(t)
	put(t, s, clubA, entry{"a", "1"}, entry{"b", "2"})
	must(t, update(s, func(tx store.Tx) error {
		refused := func(string, []byte) (bool, error) {
			if err := tx.Put("c", nil); !errors.Is(err, store.ErrScanning) {
				t.Errorf("Put in a scan: %v, want ErrScanning", err)
			}
			if err := tx.Delete("a"); !errors.Is(err, store.ErrScanning) {
				t.Errorf("Delete in a scan: %v, want ErrScanning", err)
			}
			return true, nil
		}
		must(t, tx.Scan("", "", refused))
		must(t, tx.ScanDown("", "", refused))
		// After a scan writing is fine again, however the scan ended.
		_ = tx.Scan("", "", func(string, []byte) (bool, error) { return false, errors.New("ended early") })
		func() {
			defer func() { _ = recover() }()
			_ = tx.Scan("", "", func(string, []byte) (bool, error) { panic("ended worse") })
		}()
		return tx.Put("d", []byte("3"))
	}))
	if diff := cmp.Diff([]entry{{"a", "1"}, {"b", "2"}, {"d", "3"}}, all(t, s, clubA)); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

func checkNestedScans(t *testing.T, open Open) {
	s := open(t)
	put(t, s, clubA, entry{"a", "va"}, entry{"b", "vb"}, entry{"c", "vc"})
	var pairs []string
	must(t, update(s, func(tx store.Tx) error {
		pairs = nil
		return tx.Scan("", "", func(outer string, value []byte) (bool, error) {
			err := tx.ScanDown("", "", func(inner string, _ []byte) (bool, error) {
				wants(t, tx, inner, []byte("v"+inner))
				pairs = append(pairs, outer+inner)
				return true, nil
			})
			if err := tx.Put("x", nil); !errors.Is(err, store.ErrScanning) {
				t.Errorf("Put after the inner scan: %v, want ErrScanning", err)
			}
			if string(value) != "v"+outer {
				t.Errorf("the value of %s became %q", outer, value)
			}
			return true, err
		})
	}))
	if got := strings.Join(pairs, " "); got != "ac ab aa bc bb ba cc cb ca" {
		t.Errorf("visited %s", got)
	}
}

// checkScanAfterDeletes deletes ranges that span pages of a tree, and scans in the same transaction and after it.
func checkScanAfterDeletes(t *testing.T, open Open) {
	const count = 600 // of about 110 bytes: some 16 pages of 4 KiB
	var full []entry
	for i := range count {
		full = append(full, entry{fmt.Sprintf("k%04d", i), strings.Repeat("v", 100)})
	}
	for _, gap := range [][2]int{{0, 200}, {200, 400}, {400, 600}, {1, 599}, {0, 599}, {1, 600}, {0, 600}} {
		t.Run(fmt.Sprint(gap), func(t *testing.T) {
			s := open(t)
			put(t, s, clubA, full...)
			want := slices.Concat(full[:gap[0]], full[gap[1]:])
			must(t, update(s, func(tx store.Tx) error {
				for _, e := range full[gap[0]:gap[1]] {
					must(t, tx.Delete(e.Key))
				}
				bothWays(t, tx, "", want)
				bothWays(t, tx, full[gap[0]].Key, want)
				bothWays(t, tx, full[(gap[0]+gap[1])/2].Key, want)
				return nil
			}))
			must(t, view(s, func(tx store.Tx) error {
				bothWays(t, tx, "", want)
				return nil
			}))
		})
	}
}

// bothWays compares a scan up and a scan down from a bound with what must be there.
func bothWays(t rapid.TB, tx store.Tx, bound string, want []entry) {
	t.Helper()
	var up, down []entry
	must(t, tx.Scan("k", bound, into(&up)))
	must(t, tx.ScanDown("k", bound, into(&down)))
	compare(t, "Scan", expected(want, "k", bound, false), up)
	compare(t, "ScanDown", expected(want, "k", bound, true), down)
}

func compare(t rapid.TB, what string, want, got []entry) {
	t.Helper()
	if !slices.Equal(want, got) {
		t.Errorf("%s visited %d keys, want %d: -want +got:\n%.2000s", what, len(got), len(want), cmp.Diff(want, got))
	}
}

// expected is what a scan must visit, by the definition, of all entries in ascending order.
func expected(sorted []entry, prefix, bound string, down bool) (visited []entry) {
	for _, e := range sorted {
		if strings.HasPrefix(e.Key, prefix) && (bound == "" || !down && e.Key > bound || down && e.Key < bound) {
			visited = append(visited, e)
		}
	}
	if down {
		slices.Reverse(visited)
	}
	return visited
}
