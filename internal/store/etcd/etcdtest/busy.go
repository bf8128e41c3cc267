package etcdtest

import (
	"fmt"
	"os"
	"strconv"
	"strings"
)

// ticks is how many clock ticks the kernel counts to a second, sysconf(_SC_CLK_TCK): 100 on all that Linux runs on today.
const ticks = 100

// Busy is how long the processor has worked for the members that run, s: utime and stime of proc(5).
func (c *Cluster) Busy() (s float64) {
	c.t.Helper()
	for _, m := range c.members {
		if m.process == nil || m.process.Process == nil {
			continue
		}
		stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", m.process.Process.Pid))
		if err != nil {
			c.t.Fatal(err)
		}
		_, after, _ := strings.Cut(string(stat), ") ") // the name before may hold blanks
		fields := strings.Fields(after)
		for _, field := range fields[11:13] { // the 14th and 15th of all
			n, err := strconv.ParseFloat(field, 64)
			if err != nil {
				c.t.Fatal(err)
			}
			s += n / ticks
		}
	}
	return s
}
