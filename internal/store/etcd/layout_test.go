package etcd

import (
	"bytes"
	"errors"
	"strings"
	"testing"
)

// FuzzLayout reads what may lie in etcd under this program's keys, however it came there: it is refused, or read so that writing
// it down again says the same.
func FuzzLayout(f *testing.F) {
	f.Add([]byte{inline, 'v'})
	f.Add(append([]byte{apart}, "3f2a 2"...))
	f.Add([]byte("token"))
	f.Add([]byte("token 3f2a 2"))
	f.Add([]byte("token 3f2a 99999999999999999999"))
	f.Add(appendChanges(nil, []change{{key: "bike/1", record: []byte{inline, 'v'}, drops: "3f2a"}, {key: "bike/2"}}))
	f.Add(appendChanges(nil, []change{{key: "bike/1", record: []byte{inline, 'v'}}, {key: "bike/1", record: []byte{inline, 'w'}}}))
	f.Add([]byte{0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0x01})
	f.Fuzz(func(t *testing.T, data []byte) {
		if e, err := readRecord(data); err == nil {
			again, err := readRecord(e.record())
			if err != nil || !bytes.Equal(again.value, e.value) || again.blob() != e.blob() {
				t.Errorf("a record %q was read as %+v, and that as %+v, %v", data, e, again, err)
			}
		}
		if v, err := readVersion(string(data)); err == nil {
			if again, err := readVersion(v.text()); err != nil || again != v {
				t.Errorf("a version %q was read as %+v, and that as %+v, %v", data, v, again, err)
			}
		}
		u := &updating{m: &mirror{}, state: state{keys: newKeys(), packs: new(packs)}}
		if err := u.pack("t", data); err == nil {
			in := (&state{keys: u.tree(), packs: u.packs}).in("t")
			for _, key := range in {
				if e, there := u.tree().Get(key); !there || e.pack() != "t" {
					t.Errorf("a pack %q has %q, which is %+v", data, key, e)
				}
			}
			if err := u.pack("t", nil); err != nil || u.tree().Len() > 0 || u.packs.Len() > 0 {
				t.Errorf("a pack %q was taken away, and %d keys are left, %v", data, u.tree().Len(), err)
			}
		}
		changes, err := readChanges(data)
		if err != nil {
			return
		}
		again, err := readChanges(appendChanges(nil, changes))
		if err != nil || len(again) != len(changes) {
			t.Fatalf("%d changes were read, and of these %d, %v", len(changes), len(again), err)
		}
		for i := range changes {
			if changes[i].key != again[i].key || changes[i].drops != again[i].drops || !bytes.Equal(changes[i].record, again[i].record) {
				t.Errorf("change %d was %+v and became %+v", i, changes[i], again[i])
			}
		}
	})
}

// TestOlderProgramStops: a program from before there were packs reads what follows the token of a version as where a blob lies, and cannot.
func TestOlderProgramStops(t *testing.T) {
	for _, v := range []version{{token: "T"}, {token: "T", pending: blob{"7ABC", 2}}} {
		_, rest, more := strings.Cut(v.text(), " ")
		if where, err := readBlob(rest); !more || err == nil {
			t.Errorf("it reads %q as %+v", v.text(), where)
		}
	}
	for text, want := range map[string]version{"T": {token: "T"}, "T 7ABC 2": {token: "T", pending: blob{"7ABC", 2}}} { // as it wrote them
		if got, err := readVersion(text); err != nil || got != want {
			t.Errorf("%q is read as %+v, %v", text, got, err)
		}
	}
	for _, text := range []string{"", " packs/", "T packs/x", "T packs/ ", "T packs/ 7ABC", "T packs/ packs/ 2"} {
		if got, err := readVersion(text); err == nil {
			t.Errorf("%q is read as %+v", text, got)
		}
	}
}

// TestPackLetsGo: of a pack that is written anew nothing of before is held on to.
func TestPackLetsGo(t *testing.T) {
	u := &updating{m: &mirror{}, state: state{keys: newKeys(), packs: new(packs)}}
	stays := change{key: "bike/2", record: append([]byte{inline}, "stays"...)}
	before, after := appendChanges(nil, []change{{key: "bike/1", record: []byte{inline, 'v'}}, stays}), appendChanges(nil, []change{stays})
	if err := errors.Join(u.pack("t", before), u.pack("t", after)); err != nil {
		t.Fatal(err)
	}
	clear(before)
	if e, _ := u.tree().Get("bike/2"); string(e.value) != "stays" || u.tree().Len() != 1 {
		t.Errorf("of %d keys that one has %q", u.tree().Len(), e.value)
	}
}
