package daemon

import (
	"os"
	"os/exec"
	"slices"
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

// TestAsInFile: what was written to since the program was read is never released, be it in memory or in the swap space (proc(5), smaps).
func TestAsInFile(t *testing.T) {
	const smaps = `00400000-00410000 r-xp 00000000 08:01 11 /usr/bin/gritwardd
Rss:                  64 kB
Anonymous:             0 kB
Swap:                  0 kB
00410000-00420000 r-xp 00010000 08:01 11 /usr/bin/gritwardd
Anonymous:             4 kB
Swap:                  0 kB
00420000-00430000 r--p 00020000 08:01 11 /usr/bin/gritwardd
Anonymous:             0 kB
Swap:                 12 kB
00430000-00440000 r--p 00030000 08:01 11 /usr/bin/gritwardd
Anonymous:             0 kB
Swap:                  0 kB
SwapPss:               0 kB
00440000-00450000 rw-p 00040000 08:01 11 /usr/bin/gritwardd
Anonymous:             0 kB
Swap:                  0 kB
7f0000000000-7f0000010000 r-xp 00000000 08:01 12 /usr/lib/other
Anonymous:             0 kB
Swap:                  0 kB
7f0000010000-7f0000020000 r--p 00000000 00:00 0
Anonymous:             0 kB
Swap:                  0 kB
`
	if got, want := asInFile(strings.NewReader(smaps), "/usr/bin/gritwardd"), []span{{0x400000, 0x410000}, {0x430000, 0x440000}}; !slices.Equal(got, want) {
		t.Errorf("%x, want %x", got, want)
	}
}

// TestHeadStart has a program with this package in it say in which order its packages are made: headstart is before those that take memory.
func TestHeadStart(t *testing.T) {
	command := exec.Command(os.Args[0], "-test.run", "^$")
	command.Env = append(os.Environ(), "GODEBUG=inittrace=1") // package runtime, "Environment Variables"
	said, err := command.CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, said)
	}
	made := strings.Index(string(said), "init gritward/internal/headstart ")
	for _, later := range []string{"os", "unicode", "google.golang.org/protobuf/types/descriptorpb", "buf.build/go/protovalidate"} {
		if other := strings.Index(string(said), "init "+later+" "); made < 0 || other < made {
			t.Errorf("package headstart is made at %d of what is said, package %s at %d:\n%s", made, later, other, said)
		}
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
