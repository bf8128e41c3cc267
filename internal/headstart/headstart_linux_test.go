package headstart

import (
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"
	"unsafe"
)

// TestParsed takes lines as in proc_pid_maps(5) apart, and leaves out what is no such line.
func TestParsed(t *testing.T) {
	own := mapping{span{0x400000, 0x152e000}, "r-xp", "/usr/bin/gritwardd"}
	const line = "00400000-0152e000 r-xp 00000000 fe:00 10027060                           /usr/bin/gritwardd\n"
	for _, c := range []struct {
		text string
		want []mapping
	}{
		{"", nil},
		{line, []mapping{own}},
		{strings.TrimSuffix(line, "\n"), []mapping{own}},
		{"84395c00-96800000 rw-p 00000000 00:00 0 \n" + line, []mapping{{span{0x84395c00, 0x96800000}, "rw-p", ""}, own}},
		{"7f0-7f8 r--p 00000000 fe:00 12   /a folder/pro-gram (deleted)\n", []mapping{{span{0x7f0, 0x7f8}, "r--p", "/a folder/pro-gram (deleted)"}}},
		{"\n\n-\nfoo\n1-\n-1\n2-1 rw-p\n1-1 rw-p\n1g-2 rw-p\n10000000000000000-2 rw-p\n1-10000000000000000 rw-p\n" + line, []mapping{own}},
		{"1-2", []mapping{{span{1, 2}, "", ""}}},
	} {
		if got := parsed(c.text); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%q: %v, want %v", c.text, got, c.want)
		}
	}
}

// TestOwnFile finds the program's code and tables in the process as the runtime has them, and nothing that is written to.
func TestOwnFile(t *testing.T) {
	maps := mappings()
	own := ownFile(maps)
	if len(own) < 2 {
		t.Fatalf("%v of %v", own, maps)
	}
	code := reflect.ValueOf(TestOwnFile).Pointer()
	table := uintptr(unsafe.Pointer(unsafe.StringData("a text that the compiler puts beside the code")))
	name := uintptr(unsafe.Pointer(unsafe.StringData(runtime.FuncForPC(code).Name())))
	var written byte
	for _, address := range []struct {
		what string
		at   uintptr
		want bool
	}{{"code", code, true}, {"text", table, true}, {"name of a function", name, false}, {"stack", uintptr(unsafe.Pointer(&written)), false}, {"heap", uintptr(unsafe.Pointer(new(mapping))), false}} {
		if got := slices.ContainsFunc(own, func(s span) bool { return s.from <= address.at && address.at < s.to }); got != address.want {
			t.Errorf("%s: %v, want %v", address.what, got, address.want)
		}
	}
	for _, elsewhere := range [][]mapping{nil, {{span{1, 2}, "r-xp", "/other"}}} {
		if own := ownFile(elsewhere); own != nil {
			t.Errorf("%v: %v", elsewhere, own)
		}
	}
}

// TestSpread has the runtime map a stretch of the heap that it then can use for anything else.
func TestSpread(t *testing.T) {
	told := make(chan uintptr)
	go func() { told <- spread(false) }()
	at := <-told
	if !slices.ContainsFunc(mappings(), func(m mapping) bool { return m.from <= at && at < m.to && m.may == "rw-p" }) {
		t.Errorf("%x is not in memory that can be written to", at)
	}
}

// TestNoHarm goes through the whole again, on memory in use: what is in it stays.
func TestNoHarm(t *testing.T) {
	kept := make([][]byte, 64)
	for i := range kept {
		kept[i] = slices.Repeat([]byte{byte(i)}, 128<<10)
	}
	before := slices.Clone(ownFile(mappings()))
	for range 3 {
		done := make(chan bool)
		begin(func() { close(done) })
		<-done
		if fresh.Load() == nil {
			t.Fatal("nothing to end")
		}
		Over()
		if fresh.Load() != nil {
			t.Fatal("it is not over")
		}
		Over() // once more is no harm
	}
	(span{1, 2}).advise(hugePages) // nor is what the system refuses
	for i, data := range kept {
		if len(data) != 128<<10 || slices.ContainsFunc(data, func(b byte) bool { return b != byte(i) }) {
			t.Fatalf("block %d is not as it was", i)
		}
	}
	if after := ownFile(mappings()); !slices.Equal(after, before) {
		t.Errorf("the program lies at %v, before at %v", after, before)
	}
}
