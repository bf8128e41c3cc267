package headstart

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
)

// TestSpread has the runtime map a stretch of the heap that it then can use for anything else.
func TestSpread(t *testing.T) {
	told := make(chan uintptr)
	go func() { told <- spread(false) }()
	at := <-told
	if !slices.ContainsFunc(written(t), func(s span) bool { return s.from <= at && at < s.to }) {
		t.Errorf("%x is not in memory that can be written to", at)
	}
}

// written are the parts of the process's memory that can be written to (proc_pid_maps(5)).
func written(t *testing.T) (all []span) {
	t.Helper()
	maps, err := os.ReadFile("/proc/self/maps")
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(maps)) {
		var s span
		var may string
		if _, err := fmt.Sscanf(line, "%x-%x %s", &s.from, &s.to, &may); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		if may == "rw-p" {
			all = append(all, s)
		}
	}
	return all
}

// TestNoHarm goes through the whole again, on memory in use: what is in it stays.
func TestNoHarm(t *testing.T) {
	kept := make([][]byte, 64)
	for i := range kept {
		kept[i] = slices.Repeat([]byte{byte(i)}, 128<<10)
	}
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
}
