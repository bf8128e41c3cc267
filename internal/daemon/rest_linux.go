package daemon

import (
	"bufio"
	"fmt"
	"os"
	"strings"

	"golang.org/x/sys/unix"
)

// releaseProgram takes the program's own pages, its code and its tables, out of what the process holds in memory. The start
// touches nearly all of them and rest needs few. They stay in the machine's file cache as long as there is room, and come
// back when they are used; where there is none, they are now the first to go. Only pages that are as they are in the file are
// released. It is no harm if this fails.
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
	var from, to uintptr
	lines := bufio.NewScanner(maps)
	for lines.Scan() {
		line := lines.Text()
		var begin, end uintptr
		var may string
		if n, _ := fmt.Sscanf(line, "%x-%x %s", &begin, &end, &may); n == 3 {
			from, to = 0, 0
			if (may == "r-xp" || may == "r--p") && strings.HasSuffix(line, " "+program) {
				from, to = begin, end
			}
		}
		if from < to && strings.HasPrefix(line, "Anonymous:") && strings.Fields(line)[1] == "0" {
			_, _, _ = unix.Syscall(unix.SYS_MADVISE, from, to-from, unix.MADV_DONTNEED) // madvise(2)
		}
	}
}
