package bolt

import (
	"bytes"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// TestSorted: a tree is like a sorted map, and what is written to a tree over another one leaves that as it was.
func TestSorted(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		type version struct {
			tree *sorted
			want map[string]entry
		}
		now, old := version{&sorted{}, map[string]entry{}}, []version{}
		number := uint64(1)
		same := func(v version) {
			var got []entry
			for at := (place{}); v.tree.at(at) != nil; at = v.tree.next(at) {
				got = append(got, *v.tree.at(at))
			}
			if !slices.EqualFunc(got, slices.Sorted(maps.Keys(v.want)), func(e entry, key string) bool {
				want := v.want[key]
				return e.key == key && e.batch == want.batch && bytes.Equal(e.record, want.record)
			}) {
				t.Fatalf("%v, want %v", got, v.want)
			}
			for key := range v.want {
				if e := v.tree.find(key); e == nil || e.key != key {
					t.Fatalf("%q is not found", key)
				}
			}
		}
		steps := rapid.IntRange(1, 400).Draw(t, "steps")
		for range steps {
			key := fmt.Sprint(rapid.IntRange(0, 150).Draw(t, "key"))
			switch rapid.IntRange(0, 9).Draw(t, "what") {
			case 0:
				old = append(old, now)
				floor := uint64(rapid.IntRange(0, int(number)).Draw(t, "floor"))
				now = version{now.tree.over(floor), maps.Clone(now.want)}
				if floor > old[len(old)-1].tree.floor {
					maps.DeleteFunc(now.want, func(_ string, e entry) bool { return e.batch <= floor })
				}
				number++
			case 1, 2:
				if _, there := now.want[key]; there {
					now.tree.drop(key)
					delete(now.want, key)
				}
			default:
				e := entry{key: key, record: []byte(strings.Repeat("r", int(number%7))), batch: number}
				before, was := now.tree.set(e)
				if want, there := now.want[key]; was != there || before.batch != want.batch || before.key != key {
					t.Fatalf("in place of %+v, %t", before, was)
				}
				now.want[key] = e
			}
		}
		for _, one := range append(old, now) {
			same(one)
		}
	})
}

// TestJournalRecords: what is appended is read again, whatever it is, by those of its epoch and at its place alone.
func TestJournalRecords(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		of := epochs{now: newEpoch(), before: newEpoch()}
		journal, want := of.now.appendHeader(nil), map[string]map[string]string{}
		records := rapid.IntRange(1, 5).Draw(t, "records")
		for range records {
			own := map[string]*sorted{}
			for _, club := range rapid.SliceOfN(rapid.SampledFrom([]string{"moor", "fell", "beck-3"}), 1, 3).Draw(t, "clubs") {
				if own[club] == nil {
					own[club] = &sorted{}
				}
				if want[club] == nil {
					want[club] = map[string]string{}
				}
				key := rapid.StringMatching(`[a-z/\x00-]{1,20}`).Draw(t, "key")
				if rapid.Bool().Draw(t, "gone") {
					own[club].set(entry{key: key})
					want[club][key] = "gone"
					continue
				}
				value := rapid.SliceOfN(rapid.Byte(), 0, 300).Draw(t, "value")
				own[club].set(written(key, value))
				want[club][key] = "is " + string(value)
			}
			journal = of.now.appendRecord(journal, 0, own)
		}
		read := func(of epochs, journal []byte) map[string]map[string]string {
			clubs, err := of.read(journal)
			if err != nil {
				t.Fatal(err)
			}
			got := map[string]map[string]string{}
			for club, writes := range clubs {
				got[club] = map[string]string{}
				for at := (place{}); writes.at(at) != nil; at = writes.next(at) {
					if e := writes.at(at); e.gone() {
						got[club][e.key] = "gone"
					} else {
						got[club][e.key] = "is " + string(e.value())
					}
				}
			}
			return got
		}
		if got := read(of, append(bytes.Clone(journal), rapid.SliceOfN(rapid.Byte(), 0, 40).Draw(t, "behind")...)); !maps.EqualFunc(got, want, maps.Equal[map[string]string, map[string]string]) {
			t.Fatalf("%q, want %q", got, want)
		}
		if got := read(epochs{now: newEpoch(), before: of.now}, journal); len(got) > 0 {
			t.Fatalf("of an epoch that was left: %q", got)
		}
		if _, err := (epochs{now: newEpoch(), before: newEpoch()}).read(journal); err != errJournalForeign {
			t.Fatalf("of another epoch: %v", err)
		}
	})
}

// FuzzJournal reads what may stand in a journal: a few bytes of a good one are changed, and it is cut off and gone on with anyhow. It is read or
// refused; what is read of the records before the first change is what was written.
func FuzzJournal(f *testing.F) {
	of := epochs{now: epoch{1, 2, 3}, before: epoch{9}}
	good, first := of.now.appendHeader(nil), 0
	for i := range 5 {
		own := &sorted{}
		own.set(written(fmt.Sprint("key", i), bytes.Repeat([]byte{byte(i)}, 50*i)))
		own.set(entry{key: "gone"})
		if good = of.now.appendRecord(good, 0, map[string]*sorted{"moor": own}); i == 0 {
			first = len(good)
		}
	}
	f.Add(len(good), []byte(nil), uint32(0), byte(0))
	f.Add(first+9, []byte("jrnl\x05\x00\x00\x00\x00\x00\x00\x00\xff\xff\xff\xff\x7f"), uint32(30), byte(0x80))
	f.Add(headerBytes, good[headerBytes:first], uint32(3), byte(1))
	f.Fuzz(func(t *testing.T, cut int, behind []byte, at uint32, with byte) {
		journal := append(bytes.Clone(good[:min(max(cut, 0), len(good))]), behind...)
		changed := len(journal)
		if len(journal) > 0 && with != 0 {
			changed = int(at) % len(journal)
			journal[changed] ^= with
		}
		clubs, err := of.read(journal)
		if err != nil || cut < first || changed < first && changed >= headerBytes {
			return
		}
		if clubs["moor"] == nil || clubs["moor"].find("key0") == nil || !clubs["moor"].find("gone").gone() {
			t.Errorf("the first record is not read: %v", clubs)
		}
	})
}
