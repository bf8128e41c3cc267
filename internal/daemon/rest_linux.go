package daemon

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"strings"

	"golang.org/x/sys/unix"
)

// releaseProgram takes the program's own pages, its code and its tables, out of what the process holds in memory. The start
// touches nearly all of them and rest needs few. They stay in the machine's file cache as long as there is room, and come
// back when they are used; where there is none, they are now the first to go. It is no harm if this fails.
func releaseProgram() {
	program, err := os.Readlink("/proc/self/exe")
	if err != nil {
		return
	}
	maps, err := os.Open("/proc/self/smaps") // proc(5)
	if err != nil {
		return
	}
	defer func() { _ = maps.Close() }()
	for _, span := range asInFile(maps, program) {
		_, _, _ = unix.Syscall(unix.SYS_MADVISE, span.from, span.to-span.from, unix.MADV_DONTNEED) // madvise(2)
	}
}

type span struct{ from, to uintptr }

// asInFile are the mappings of a program's file that nothing is written to, and whose pages all are as they are in the file: one that was
// changed is anonymous memory, or lies in the swap space, and would be lost.
func asInFile(smaps io.Reader, program string) (spans []span) {
	var at span
	unchanged := false
	lines := bufio.NewScanner(smaps)
	for lines.Scan() {
		line := lines.Text()
		var begin, end uintptr
		var may string
		if n, _ := fmt.Sscanf(line, "%x-%x %s", &begin, &end, &may); n == 3 {
			at = span{}
			if (may == "r-xp" || may == "r--p") && strings.HasSuffix(line, " "+program) {
				at = span{begin, end}
			}
		}
		switch words := strings.Fields(line); {
		case at.from == at.to || len(words) < 2:
		case words[0] == "Anonymous:":
			unchanged = words[1] == "0"
		case words[0] == "Swap:" && words[1] == "0" && unchanged: // it comes after the other
			spans = append(spans, at)
		}
	}
	return spans
}
