package daemon

import (
	"os"
	"strconv"
	"strings"
	"testing"
)

// TestReleaseProgram sees the program's pages leave the process, as the kernel counts them (proc(5), smaps), and the program
// go on.
func TestReleaseProgram(t *testing.T) {
	before := programKB(t)
	releaseProgram()
	after := programKB(t)
	if after > before/2 {
		t.Errorf("%d kB of the program were held, and %d kB are after their release", before, after)
	}
}

// programKB is how much of the program's code is in the memory of this process, kB.
func programKB(t *testing.T) (kb int) {
	t.Helper()
	program, err := os.Readlink("/proc/self/exe")
	if err != nil {
		t.Fatal(err)
	}
	maps, err := os.ReadFile("/proc/self/smaps")
	if err != nil {
		t.Fatal(err)
	}
	code := false
	for line := range strings.Lines(string(maps)) {
		words := strings.Fields(line)
		switch {
		case strings.Contains(words[0], "-"):
			code = words[1] == "r-xp" && words[len(words)-1] == program
		case code && words[0] == "Rss:":
			n, err := strconv.Atoi(words[1])
			if err != nil {
				t.Fatal(err)
			}
			kb += n
		}
	}
	if kb == 0 {
		t.Fatal("no code of the program is in memory")
	}
	return kb
}
